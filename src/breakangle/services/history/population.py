"""What many necks taught, as a file: read, written, put back by one version, and laid beside the family's own.

The file holds what to expect of a neck of each make, and of one of any other make, for each family, as its distance
from what is believed of the family itself. Every writing is a
new version; the former stays beside it, so what a version changed can be seen and taken back. Nothing uses it unless it
is asked to.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.planning.estimate.population import Population
from breakangle.planning.kinds.prior import Responses, learned_places, prior_of
from breakangle.planning.state.board import board_of
from breakangle.planning.state.layout import Layout

FORMAT = "breakangle/population/1"
OTHERS = mark("other makes")


@dataclass(frozen=True)
class Expected:
    """What to expect of one neck: how it answers, whose word that is, and how many necks it rests on."""

    responses: Responses
    make: str
    necks: int


def expected_of(path: str | Path, service: Service, make: str = "") -> Expected:
    """Return what a file expects of a service's neck; of its other makes where it does not have this one.

    Raises:
        ChooseAnotherFileError: no such file, or not one of these.
        CorrectInputError: a family that the file does not have; those it has are named.
    """
    families, kind = _read(Path(path))["families"], service.instrument.kind
    if kind not in families:
        raise CorrectInputError(
            tr("{path} knows nothing of {kind}", path=path, kind=kind),
            tr("it knows {families}", families=", ".join(sorted(families))),
        )
    known = families[kind]
    found = known["makes"].get(make) or known["others"]
    board = board_of(service.instrument, service.reference_hz)
    family = prior_of(board).mean[learned_places(Layout(board.string_count, board.fret_count))]
    responses = Responses(family + np.array(found["mean"]), np.array(found["covariance"]))
    return Expected(responses, make if make in known["makes"] else tr(OTHERS), int(found["necks"]))


def write_population(path: str | Path, families: Mapping[str, Population]) -> int:
    """Write what was learned as the next version of a file; the former stays beside it. Return the version.

    Raises:
        ChooseAnotherFileError: what stands there is no such file, or the place cannot be written.
    """
    target = Path(path)
    version = _read(target)["version"] + 1 if target.exists() else 1
    told = {
        "format": FORMAT,
        "version": version,
        "families": {kind: _told(one) for kind, one in families.items()},
    }
    try:
        if target.exists():
            target.replace(_former(target, version - 1))
        writing = target.with_name(f".{target.name}")
        writing.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
        writing.replace(target)
    except OSError as cause:
        why = (cause.strerror or str(cause)).lower()
        raise ChooseAnotherFileError(
            tr("{target} cannot be written: {why}", target=target, why=why), "", tr("name another file")
        ) from cause
    return int(version)


def put_back(path: str | Path) -> int:
    """Put the former version in the place of the newest; return its number.

    Raises:
        ChooseAnotherFileError: there is no former version.
    """
    target = Path(path)
    version = int(_read(target)["version"]) - 1
    former = _former(target, version)
    if not former.is_file():
        raise ChooseAnotherFileError(
            tr("{target} has no former version", target=target),
            tr("{former_name} is not there", former_name=former.name),
        )
    former.replace(target)
    return version


def changes(path: str | Path) -> list[str]:
    """Return how the rod's answer to a turn differs between a file and its former version, a line for each make.

    Raises:
        ChooseAnotherFileError: no such file, or not one of these.
    """
    target = Path(path)
    now = _read(target)
    former = _former(target, int(now["version"]) - 1)
    before = _read(former)["families"] if former.is_file() else {}
    lines = []
    for kind, known in sorted(now["families"].items()):
        for make, one in [(tr(OTHERS), known["others"]), *sorted(known["makes"].items())]:
            was = _of(before.get(kind), make)
            said = tr(
                "{kind}, {make}: {rod} a turn, {necks} necks",
                kind=kind,
                make=make,
                rod=_rod(one),
                necks=one["necks"],
            )
            lines.append(said + (tr("; was {rod}", rod=_rod(was)) if was else ""))
    return lines


def _of(family: Mapping[str, Any] | None, make: str) -> Mapping[str, Any] | None:
    if family is None:
        return None
    found: Mapping[str, Any] | None = family["others"] if make == OTHERS else family["makes"].get(make)
    return found


def _rod(one: Mapping[str, Any]) -> str:
    """Return how far the first bending shape moves in a turn beside the family's, with its 95 % interval, mm."""
    return tr(
        "{mean:+.2f} ± {sqrt:.2f} mm beside the family's",
        mean=one["mean"][0],
        sqrt=1.96 * np.sqrt(one["covariance"][0][0]),
    )


def _told(one: Population) -> dict[str, Any]:
    def said(responses: Responses, necks: int) -> dict[str, Any]:
        return {"mean": responses.mean.tolist(), "covariance": responses.covariance.tolist(), "necks": necks}

    return {
        "within_ratio": one.within_ratio,
        "between_ratio": one.between_ratio,
        "others": said(one.family, sum(one.necks.values())),
        "makes": {make: said(responses, one.necks[make]) for make, responses in sorted(one.makes.items())},
    }


def _former(target: Path, version: int) -> Path:
    return target.with_name(f"{target.stem}.{version}{target.suffix}")


def _read(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as cause:
        raise ChooseAnotherFileError(
            tr("{path} cannot be read as what necks taught", path=path),
            tr("a file of the form {format}", format=FORMAT),
            tr("name another"),
        ) from cause
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise ChooseAnotherFileError(
            tr("{path} is not of the form {format}", path=path, format=FORMAT), "", tr("name another")
        )
    return found


def makes_listed(path: str | Path, items: Sequence[str]) -> dict[str, str]:
    """Return the make of every item, from a table with the columns `item` and `make` (CSV in UTF-8).

    Raises:
        ChooseAnotherFileError: no such table, or without those columns.
        CorrectInputError: items that it does not have.
    """
    import csv

    try:
        with Path(path).open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError) as cause:
        raise ChooseAnotherFileError(
            tr("{path} cannot be read as a table", path=path), tr("CSV in UTF-8")
        ) from cause
    if rows and not {"item", "make"} <= set(rows[0]):
        raise ChooseAnotherFileError(
            tr("{path} has no columns item and make", path=path), tr("item names a file, make its maker")
        )
    found = {row["item"]: row["make"].strip() for row in rows}
    missing = [name for name in items if name not in found]
    if missing:
        raise CorrectInputError(
            tr("{path} has no make for {missing}", path=path, missing=missing[0]),
            tr("{missing_count} such items", missing_count=len(missing)),
            tr("add them"),
        )
    return found
