"""The end of a maker's line: whether what leaves it drifts, since when, and which dimension would mend it.

A run of the job `figures` over instruments in the order they were made gives one value for each of them and each
quantity: the mean distance of its figures from what is wanted. Each value goes on two charts as its distance from those
before it (`fleet/charts.py`). How far the whole line is from what is wanted is told beside; what has moved is told with
the dimension of the instrument that moves it.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.fleet.charts import Array, began, cusum, from_those_before, outside
from breakangle.fleet.needs import parquet
from breakangle.fleet.store import RESULTS
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.measure import INCH_MM
from breakangle.model.words.speech import mark, tr

LEAST = 20  # instruments that a chart is worth drawing for; common practice (20 to 25)
LEAST_STEADY = 3  # instruments that have a mean and a deviation
# Which dimension moves a quantity: the saddle's height counts half at the 12th fret [derived: it lies half way].
DIMENSIONS: Mapping[str, str] = {
    "relief": mark("the neck's bow as it is made, or the rod's first setting"),
    "action": mark("the height of saddle or bridge, by twice this at the 12th fret"),
    "nut clearance": mark("the depth of the nut's slots, by this"),
    "intonation": mark("the place of the saddle: away from the nut where it is sharp"),
}


@dataclass(frozen=True)
class Drift:
    """One quantity over a line of instruments.

    Attributes:
        figure: the quantity.
        unit: mm or cents.
        items: instruments in the order they were made.
        off: each one's mean distance from what is wanted, shape (items,), in `unit`.
        centre: the mean of the distances before anything drifted, in `unit`.
        deviation: the standard deviation of one of them, in `unit`.
        outside: which lie outside three deviations, shape (items,).
        above: the CUSUM's upper sum, shape (items,), in deviations; `below` its lower one.
        below: as `above`.
        alarm: the item at which a sum first went over its limit; empty where none did.
        since: the item at which that most likely began.
        step: mean distance since then, less the mean before, in `unit`.
        dimension: which part of the instrument moves it, in words.
    """

    figure: str
    unit: str
    items: tuple[str, ...]
    off: Array
    centre: float
    deviation: float
    outside: NDArray[np.bool_]
    above: Array
    below: Array
    alarm: str
    since: str
    step: float
    dimension: str


def shown_in(one: Drift, units: str) -> Drift:
    """Return a quantity's drift as it is shown to who measures in `units`: a length in inches where that is `in`."""
    if one.unit != "mm" or units != "in":
        return one
    return replace(
        one,
        unit="in",
        off=one.off / INCH_MM,
        centre=one.centre / INCH_MM,
        deviation=one.deviation / INCH_MM,
        step=one.step / INCH_MM,
    )


def drifts_in(folder: str | Path) -> list[Drift]:
    """Return every quantity's drift over the instruments of a folder of the job `figures`, by item name.

    Raises:
        ChooseAnotherFileError: the folder holds no results of `figures`.
        CorrectInputError: fewer than 20 instruments.
    """
    path = Path(folder) / RESULTS
    if not path.is_file():
        raise ChooseAnotherFileError(
            tr("{folder} has no {results}", folder=folder, results=RESULTS),
            "",
            tr("make it: breakangle fleet figures … --out"),
        )
    rows = parquet().read_table(path)
    if "wanted" not in rows.schema.names:
        raise ChooseAnotherFileError(
            tr("{path} is not of the job figures", path=path), "", tr("name the folder of such a run")
        )
    return drifts_of(rows.to_pylist())


def drifts_of(rows: Sequence[Mapping[str, Any]]) -> list[Drift]:
    """Return every quantity's drift over rows of the job `figures`, by item name, serial numbers as numbers.

    Only what was read counts: a figure that is reckoned moves with those it is reckoned from. A quantity that fewer
    than 20 instruments have is left out.

    Raises:
        CorrectInputError: nothing was read, or fewer than 20 instruments have any quantity.
    """
    units = {row["figure"]: row["unit"] for row in rows}
    by_figure = _by_figure(rows)
    if not by_figure:
        raise CorrectInputError(
            tr("no figure of any instrument was read"), "", tr("read what leaves the line")
        )
    enough = {name: by_item for name, by_item in by_figure.items() if len(by_item) >= LEAST}
    if not enough:
        figure, by_item = max(by_figure.items(), key=lambda one: len(one[1]))
        raise CorrectInputError(
            tr("{figure} of {items_count} instruments", figure=figure, items_count=len(by_item)),
            tr("a chart says nothing before {least}", least=LEAST),
        )
    return [_drift(name, units[name], by_item) for name, by_item in sorted(enough.items())]


def _by_figure(rows: Sequence[Mapping[str, Any]]) -> dict[str, dict[str, list[float]]]:
    """Return what was read of each quantity, as distances from what is wanted, by item."""
    found: dict[str, dict[str, list[float]]] = {}
    for row in rows:
        if row.get("read", True):
            by_item = found.setdefault(row["figure"], {})
            by_item.setdefault(row["item"], []).append(row["value"] - row["wanted"])
    return found


def too_few_in(folder: str | Path) -> dict[str, int]:
    """Return of how many instruments each quantity was read that is left out because they are too few."""
    rows = parquet().read_table(Path(folder) / RESULTS).to_pylist()
    counts = {name: len(by_item) for name, by_item in sorted(_by_figure(rows).items())}
    return {name: count for name, count in counts.items() if count < LEAST}


def as_numbered(item: str) -> list[tuple[int, int, str]]:
    """Return an item's place in a line: names by their letters, serial numbers in them by what they count."""
    parts = re.split(r"([0-9]+)", item)
    return [(1, int(part), part) if place % 2 else (0, 0, part) for place, part in enumerate(parts)]


def _drift(figure: str, unit: str, by_item: Mapping[str, Sequence[float]]) -> Drift:
    items = tuple(sorted(by_item, key=as_numbered))
    off = np.array([float(np.mean(by_item[name])) for name in items])
    apart = from_those_before(off)
    sums = cusum(apart)
    alarms = np.flatnonzero(sums.alarms())
    alarm = since = ""
    step, begun = 0.0, len(items)
    if len(alarms):
        at = int(alarms[0])
        begun = began(sums.above if sums.above[at] >= sums.below[at] else sums.below, at)
        alarm, since = items[at], items[begun]
        step = float(np.mean(off[begun:]) - np.mean(off[: max(begun, 1)]))
    steady = off[: max(begun, LEAST_STEADY)]
    dimension = tr(DIMENSIONS.get(figure, ""))
    return Drift(
        figure,
        unit,
        items,
        off,
        float(np.mean(steady)),
        float(np.std(steady, ddof=1)),
        outside(apart),
        sums.above,
        sums.below,
        alarm,
        since,
        step,
        dimension,
    )
