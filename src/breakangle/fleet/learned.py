"""From a run of the job `learn` to what an instrument not seen before is expected to be, by family, make and year."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from breakangle.fleet.items import sheet_name
from breakangle.fleet.needs import parquet
from breakangle.fleet.store import RESULTS
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.population import Evidence, Population, evidence_of, population_of
from breakangle.planning.kinds.prior import Responses
from breakangle.services.history.makes_table import Whose
from breakangle.services.history.seasons import CREEP_MM

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop

NOBODY = Whose("", "", "")
SEASON, NECK = "season", "neck"
Row = Mapping[str, Any]


def rows_in(folder: str | Path) -> list[dict[str, Any]]:
    """Return the rows of a run of the job `learn`.

    Raises:
        ChooseAnotherFileError: the folder holds no results of it, or nothing was taught.
    """
    path = Path(folder) / RESULTS
    rows = parquet().read_table(path) if path.is_file() else None
    if rows is not None and not {"subject", "family_mean"} <= set(rows.schema.names):
        raise ChooseAnotherFileError(
            tr("{path} is not of the job learn", path=path), "", tr("name the folder of such a run")
        )
    found: list[dict[str, Any]] = [] if rows is None else rows.to_pylist()
    if not found:
        raise ChooseAnotherFileError(
            tr("{folder} holds nothing that an instrument taught", folder=folder),
            tr("a neck teaches where readings stand before and after some work"),
            tr("make it: breakangle fleet learn … --out"),
        )
    return found


def visits_in(shop: "Shop") -> dict[str, str]:
    """Return which instrument every item of a shop is a visit of."""
    from breakangle.storage.records.records import Visit

    return {sheet_name(one.number): one.instrument_id for one in shop.every(Visit)}


def with_instruments(whose: Mapping[str, Whose], instruments: Mapping[str, str]) -> dict[str, Whose]:
    """Return whose items are, with the instrument that each is a visit of where the table names none."""
    found = dict(whose)
    for item, instrument in instruments.items():
        one = found.get(item, NOBODY)
        found[item] = one if one.instrument else replace(one, instrument=instrument)
    return found


def populations_of(rows: Sequence[Row], whose: Mapping[str, Whose]) -> dict[str, dict[str, Population]]:
    """Return what instruments taught, by family and subject, as distances from what is believed of the family itself.

    Args:
        rows: of the job `learn`.
        whose: make and year of each item, and which instrument it is a visit of; what has none is of the make "".
    """
    by_subject: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        by_subject.setdefault((row["kind"], row["subject"]), []).append(row)
    found: dict[str, dict[str, Population]] = {}
    for (kind, subject), some in sorted(by_subject.items()):
        evidence = _seasons(some, whose) if subject == SEASON else _specimens(some, whose, subject == NECK)
        if evidence:
            family = _of(some[0], "family_")
            blank = Responses(np.zeros_like(family.mean), family.covariance)
            found.setdefault(kind, {})[subject] = population_of(evidence, blank)
    return found


def _specimens(rows: Sequence[Row], whose: Mapping[str, Whose], all_visits: bool) -> list[Evidence]:
    """Return what each instrument told: of all its visits together, or as it first came.

    A neck answers alike at every visit, so that they add up; saddles and crowns were worked on after the first.
    """
    found: list[Evidence] = []
    of_instrument: dict[Whose, int] = {}
    for row in sorted(rows, key=lambda one: str(one["item"])):
        one = whose.get(row["item"], NOBODY)
        told = evidence_of(one.make, _of(row, ""), _of(row, "family_"), one.year)
        place = of_instrument.setdefault(one, len(found)) if one.instrument else len(found)
        if place == len(found):
            found.append(told)
        elif all_visits:
            before = found[place]
            found[place] = replace(
                before, information=before.information + told.information, pull=before.pull + told.pull
            )
    return found


def _seasons(rows: Sequence[Row], whose: Mapping[str, Whose]) -> list[Evidence]:
    """Return what each instrument's visits tell of relief by humidity: what one left against what the next found.

    Visits of one instrument are in the order of their items' names.

    Source: straight line through the origin, as `services/history/seasons.py`.
    """
    visits: dict[Whose, list[Row]] = {}
    for row in sorted(rows, key=lambda one: str(one["item"])):
        one = whose.get(row["item"], NOBODY)
        if one.instrument:
            visits.setdefault(one, []).append(row)
    found = []
    for one, several in visits.items():
        usual, information, pull = several[0]["family_mean"][0], 0.0, 0.0
        for before, after in pairwise(several):
            left, came = before["mean"][1], after["mean"][0]
            if left is None or came is None:
                continue
            change = after["humidity_percent"] - before["humidity_percent"]
            variance = before["covariance"][1] + after["covariance"][0] + CREEP_MM**2
            information += change**2 / variance
            pull += change * (came - left - change * usual) / variance
        if information:
            found.append(Evidence(one.make, np.array([[information]]), np.array([pull]), one.year))
    return found


def _of(row: Row, which: str) -> Responses:
    mean = np.array(row[f"{which}mean"])
    return Responses(mean, np.array(row[f"{which}covariance"]).reshape(len(mean), len(mean)))
