"""What many instruments taught, as a file: read, written, put back by one version, and laid beside the family's own.

The file holds what to expect of an instrument of each make and year, and of one of any other make, for each family and
subject (neck, saddles, crowns, season), as its distance from what is believed of the family itself. Every writing is a
new version; the former stays beside it, so what a version changed can be seen and taken back. Nothing uses it unless it
is asked to.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.measure import INCH_MM
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr, tr_n
from breakangle.planning.estimate.population import Population
from breakangle.planning.kinds.prior import Responses, learned_places, prior_of, relief_rows
from breakangle.planning.kinds.taught import Taught, saddles_in
from breakangle.planning.state.board import board_of
from breakangle.planning.state.effects.season import season_prior
from breakangle.planning.state.layout import Layout
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.families import family
from breakangle.services.service_files.example import usual_instrument

Array = NDArray[np.float64]
FORMAT, FIRST_FORMAT = "breakangle/population/2", "breakangle/population/1"
OTHERS, NAMELESS = mark("other makes"), mark("no make named")
NECK, SADDLES, CROWNS, SEASON = "neck", "saddles", "crowns", "season"
# What is said of each subject, what follows its unit where it is a length, and to how many digits of a mm.
FIRST_FIGURES = {
    NECK: (mark("relief by a turn"), "", 2), SADDLES: (mark("height"), "", 2),
    CROWNS: (mark("logarithm of their spread"), None, 2), SEASON: (mark("relief"), mark(" a percent of humidity"), 4),
}  # fmt: skip
Held = Mapping[str, Any]


@dataclass(frozen=True)
class Expected:
    """What to expect of one instrument: what goes into the planner, its season, and what each rests on.

    `said`: for each subject a line: how many instruments taught it, and of which make and year.
    """

    taught: Taught
    relief_by_humidity: Known | None
    said: tuple[str, ...]


def expected_of(path: str | Path, service: Service, make: str = "", year: str = "") -> Expected:
    """Return what a file expects of a service's instrument: of its make and year, its make, or of other makes.

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
    return _expected(families[kind], service, make, year)


def taught_text(path: str | Path) -> str:
    """Return what a file holds, for `expected_in` elsewhere.

    Raises:
        ChooseAnotherFileError: no such file, or not one of these.
    """
    return json.dumps(_read(Path(path)))


def expected_in(text: str, service: Service, make: str = "", year: str = "") -> Expected | None:
    """Return what the text of `taught_text` expects of a service's instrument; None of a family it does not have."""
    families: Held = _families(text)
    known = families.get(service.instrument.kind)
    return None if known is None else _expected(known, service, make, year)


@lru_cache(maxsize=2)
def _families(text: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(text)["families"]
    return found


def _expected(family_known: Held, service: Service, make: str, year: str) -> Expected:
    subjects = {name: _nearest(known, make, year) for name, known in family_known.items()}
    board = board_of(service.instrument, service.reference_hz)
    family = prior_of(board)
    places = learned_places(Layout(board.string_count, board.fret_count))
    apart = {name: _responses(known) for name, (_, known) in subjects.items()}
    neck = saddles = season = None
    if NECK in apart:
        neck = Responses(family.mean[places] + apart[NECK].mean, apart[NECK].covariance)
    if SADDLES in apart:
        usual = saddles_in(family, board)
        saddles = Responses(usual.mean + apart[SADDLES].mean, apart[SADDLES].covariance)
    ratio = float(np.exp(apart[CROWNS].mean[0])) if CROWNS in apart else 1.0
    if SEASON in apart:
        mean = season_prior(service.instrument).relief.value + float(apart[SEASON].mean[0])
        season = Known(mean, float(np.sqrt(apart[SEASON].covariance[0, 0])))
    said = tuple(
        tr("{name}: what {necks} of {whose} taught", name=name, necks=known["necks"], whose=whose or NAMELESS)
        for name, (whose, known) in subjects.items()
    )
    return Expected(Taught(neck, saddles, ratio), season, said)


def _nearest(known: Held, make: str, year: str) -> tuple[str, Held]:
    """Return whose word there is of a make and year, and that."""
    both = f"{make} {year}".strip()
    if year and both in known.get("years", {}):
        return both, known["years"][both]
    return (make, known["makes"][make]) if make in known["makes"] else (OTHERS, known["others"])


def _responses(known: Held) -> Responses:
    return Responses(np.array(known["mean"]), np.array(known["covariance"]))


def write_population(path: str | Path, families: Mapping[str, Mapping[str, Population]]) -> int:
    """Write what was learned as the next version of a file; the former stays beside it. Return the version.

    Raises:
        ChooseAnotherFileError: what stands there is no such file, or the place cannot be written.
    """
    target = Path(path)
    version = _read(target)["version"] + 1 if target.exists() else 1
    told = {
        "format": FORMAT,
        "version": version,
        "families": {
            kind: {name: _told(one) for name, one in subjects.items()} for kind, subjects in families.items()
        },
    }
    try:
        writing = target.with_name(f".{target.name}")
        writing.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
        if target.exists():
            target.replace(_former(target, version - 1))
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


def changes(path: str | Path, units: str = "mm") -> list[str]:
    """Return how a file differs from its former version: a line for each family, subject, make and year.

    Args:
        path: the file.
        units: of lengths, `mm` or `in`.

    Raises:
        ChooseAnotherFileError: no such file, or not one of these.
    """
    target = Path(path)
    now = _read(target)
    former = _former(target, int(now["version"]) - 1)
    is_now = dict(_lines(now, units))
    was = dict(_lines(_read(former), units)) if former.is_file() else {}
    lines = [f"{name}: {said}" + _before(was.get(name), said) for name, said in is_now.items()]
    return lines + [
        tr("{name}: no longer there; was {said}", name=name, said=said)
        for name, said in was.items()
        if name not in is_now
    ]


def _before(was: str | None, said: str) -> str:
    if was is None:
        return ""
    return tr("; as before") if was == said else tr("; was {was}", was=was)


def _lines(file: Held, units: str) -> Iterator[tuple[str, str]]:
    """Give each entry's name, and what it says of its first figure beside the family's with its 95 % interval."""
    for kind, subjects in sorted(file["families"].items()):
        for subject, known in sorted(subjects.items()):
            words, after, digits = FIRST_FIGURES[subject]
            in_inches = after is not None and units == "in"
            per, digits = (INCH_MM, digits + 1) if in_inches else (1.0, digits)
            unit = "" if after is None else f" {units}{tr(after) if after else ''}"
            entries = [
                (OTHERS, known["others"]),
                *sorted({**known["makes"], **known.get("years", {})}.items()),
            ]
            for whose, one in entries:
                told, variance = _first_figure(kind, subject, one)
                half = f"{1.96 * float(np.sqrt(variance)) / per:.{digits}f}"
                mean = f"{told / per:+.{digits}f}".replace("-", "−")
                yield (
                    f"{kind}, {subject}, {tr(whose or NAMELESS)}",
                    tr(
                        "{words} {mean} ± {half}{unit} beside the family's, {counted}",
                        words=tr(words),
                        mean=mean,
                        half=half,
                        unit=unit,
                        counted=_counted(one["necks"]),
                    ),
                )


def _first_figure(kind: str, subject: str, one: Held) -> tuple[float, float]:
    """Return what an entry says first, as `FIRST_FIGURES` names it, and its variance."""
    mean, covariance = np.array(one["mean"]), np.array(one["covariance"])
    row = _relief_by_shape(kind) if subject == NECK else np.ones(1)
    size = len(row)
    return float(row @ mean[:size]), float(row @ covariance[:size, :size] @ row)


@lru_cache(maxsize=32)
def _relief_by_shape(kind: str) -> Array:
    """Return how much relief a neck has for each mm of the shapes it bends in, (3,), on a kind's usual instrument."""
    usual = family(kind)
    return relief_rows(board_of(usual_instrument(usual, kind)), usual)


def _counted(count: int) -> str:
    return tr_n("{count} instrument", "{count} instruments", count, count=count)


def _told(one: Population) -> dict[str, Any]:
    def said(responses: Responses, necks: int) -> dict[str, Any]:
        return {"mean": responses.mean.tolist(), "covariance": responses.covariance.tolist(), "necks": necks}

    return {
        "within_ratio": one.within_ratio,
        "between_ratio": one.between_ratio,
        "years_ratio": one.years_ratio,
        "others": said(one.family, sum(one.necks.values())),
        "makes": {make: said(responses, one.necks[make]) for make, responses in sorted(one.makes.items())},
        "years": {
            f"{make} {year}".strip(): said(responses, one.years_necks[make, year])
            for (make, year), responses in sorted(one.years.items())
        },
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
    if not isinstance(found, dict) or found.get("format") not in (FORMAT, FIRST_FORMAT):
        raise ChooseAnotherFileError(
            tr("{path} is not of the form {format}", path=path, format=FORMAT), "", tr("name another")
        )
    if found["format"] == FIRST_FORMAT:  # of necks alone
        found["families"] = {kind: {NECK: known} for kind, known in found["families"].items()}
    return found
