"""From a run of the job `learn` to what a neck not seen before will answer, by family and make."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from breakangle.fleet.needs import parquet
from breakangle.fleet.store import RESULTS
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.population import Population, evidence_of, population_of
from breakangle.planning.kinds.prior import Responses


def rows_in(folder: str | Path) -> list[dict[str, Any]]:
    """Return the rows of a run of the job `learn`.

    Raises:
        ChooseAnotherFileError: the folder holds no results of it, or nothing was taught.
    """
    path = Path(folder) / RESULTS
    found: list[dict[str, Any]] = parquet().read_table(path).to_pylist() if path.is_file() else []
    if not found or "family_mean" not in found[0]:
        raise ChooseAnotherFileError(
            tr("{folder} holds nothing that a neck taught", folder=folder),
            tr("a neck teaches where readings stand before and after some work"),
            tr("make it: breakangle fleet learn … --out"),
        )
    return found


def populations_of(rows: Sequence[Mapping[str, Any]], makes: Mapping[str, str]) -> dict[str, Population]:
    """Return what necks taught, by family, as distances from what is believed of the family itself.

    Args:
        rows: of the job `learn`.
        makes: the make of each item; what has none is of the make "".
    """
    by_kind: dict[str, list[Mapping[str, Any]]] = {}
    for row in rows:
        by_kind.setdefault(row["kind"], []).append(row)
    found = {}
    for kind, necks in sorted(by_kind.items()):
        evidence = [
            evidence_of(makes.get(row["item"], ""), _of(row, ""), _of(row, "family_")) for row in necks
        ]
        family = _of(necks[0], "family_")
        found[kind] = population_of(evidence, Responses(np.zeros_like(family.mean), family.covariance))
    return found


def _of(row: Mapping[str, Any], which: str) -> Responses:
    mean = np.array(row[f"{which}mean"])
    return Responses(mean, np.array(row[f"{which}covariance"]).reshape(len(mean), len(mean)))
