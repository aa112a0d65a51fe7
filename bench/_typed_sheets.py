"""Sheets of readings as benches write them, in mm or in inches: figures from trade ranges, nothing of the planner's.

Nothing here asks the planner what an instrument reads. A relief, a row of actions and a row of first-fret clearances
are drawn from what repairers meet (common practice, no source), rounded as rulers, feelers and dials are read.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from breakangle.model.instrument import Instrument, String
from breakangle.model.service import Service
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.reference.families import families, family
from breakangle.services.service_files.example import usual_instrument

INCH_MM = 25.4
Rng = np.random.Generator


@dataclass(frozen=True)
class Trade:
    """What a repairer meets on one sort of instrument, in mm: least and most of each figure."""

    relief: tuple[float, float]
    action_bass: tuple[float, float]
    action_treble: tuple[float, float]
    lowest_action: float
    nut: tuple[float, float]


# Common practice, no source: from well set up to neglected.
ELECTRIC = Trade((0.05, 0.50), (1.2, 2.6), (0.9, 2.2), 0.7, (0.04, 0.35))
STEEL = Trade((0.05, 0.50), (1.8, 3.6), (1.3, 2.8), 1.1, (0.04, 0.40))
NYLON = Trade((0.02, 0.35), (2.7, 4.8), (2.2, 4.0), 2.0, (0.06, 0.55))
BASS = Trade((0.08, 0.70), (1.5, 3.4), (1.2, 2.9), 1.0, (0.05, 0.45))
BANJO = Trade((0.03, 0.40), (1.9, 3.6), (1.8, 3.4), 1.4, (0.04, 0.35))
MANDOLIN = Trade((0.02, 0.25), (1.3, 2.6), (1.0, 2.3), 0.8, (0.04, 0.30))
UKULELE = Trade((0.02, 0.25), (2.0, 3.6), (1.9, 3.4), 1.5, (0.06, 0.50))
SORTS = {
    "electric": ELECTRIC, "steel": STEEL, "twelve": STEEL, "nylon": NYLON, "bass": BASS, "banjo": BANJO,
    "mandolin": MANDOLIN, "ukulele": UKULELE,
}  # fmt: skip


@dataclass(frozen=True)
class Drawn:
    """One figure as it truly is, in mm, and where it was read."""

    role: str
    string: int
    fret: int
    held: tuple[int, ...]
    mm: float


@dataclass(frozen=True)
class Sheet:
    """An instrument and what is read on it, in mm to the last digit."""

    instrument: Instrument
    figures: tuple[Drawn, ...]


def trade_of(kind: str) -> Trade:
    """Return what a repairer meets on a family."""
    return next(trade for word, trade in SORTS.items() if kind.startswith(word))


def instrument_drawn(rng: Rng) -> Instrument:
    """Return an instrument of any family: its scale, spreads and gauges as shops meet them."""
    kind = str(rng.choice(families()))
    one = usual_instrument(family(kind), "as typed")
    heavier = float(rng.uniform(0.88, 1.15))
    strings = tuple(
        replace_string(string, round(string.diameter_mm * heavier * float(rng.uniform(0.96, 1.04)), 3))
        for string in one.strings
    )
    update = {
        "strings": strings,
        "scale_mm": round(one.scale_mm * float(rng.uniform(0.97, 1.03)), 1),
        "spread_nut_mm": round(one.spread_nut_mm * float(rng.uniform(0.93, 1.08)), 1),
        "spread_bridge_mm": round(one.spread_bridge_mm * float(rng.uniform(0.97, 1.08)), 1),
    }
    return one.model_copy(update=update)


def replace_string(string: String, diameter_mm: float) -> String:
    """Return a string of another gauge, its core in proportion."""
    core = string.core_mm
    update = {"diameter_mm": diameter_mm}
    if core is not None:
        update["core_mm"] = round(core * diameter_mm / string.diameter_mm, 3)
    return string.model_copy(update=update)


def sheet_drawn(rng: Rng, case: str = "") -> Sheet:
    """Return a sheet; `case`: `low`, `back-bowed`, `straight`, `low-nut` or any other."""
    instrument = instrument_drawn(rng)
    trade, strings = trade_of(instrument.kind), instrument.in_order()
    full = [one for one in strings if one.nut_at_fret == 0]
    joint = instrument.joint_fret
    relief = {"back-bowed": 0.0, "straight": float(rng.uniform(0.0, 0.06))}.get(
        case, float(rng.uniform(*trade.relief))
    )
    bass, treble = float(rng.uniform(*trade.action_bass)), float(rng.uniform(*trade.action_treble))
    if case == "low":
        treble = float(trade.lowest_action * rng.uniform(1.0, 1.25))
        bass = treble + float(rng.uniform(0.0, 0.4))
    found = []
    for one in {full[0].string, full[-1].string}:
        mm = max(relief + float(rng.normal(0.0, 0.03)), 0.0) if relief else 0.0
        found.append(Drawn("relief", one, max(joint // 2, 2), (1, joint), mm))
    for at, one in enumerate(strings):
        share = at / max(len(strings) - 1, 1)
        first = one.nut_at_fret
        mm = max(treble + (bass - treble) * share + float(rng.normal(0.0, 0.08)), 0.4)
        held = (1,) if first == 0 else ()
        found.append(Drawn("action", one.string, min(first + 12, instrument.frets), held, mm))
        if first == 0:
            low = (0.01, 0.06) if case == "low-nut" else trade.nut
            found.append(Drawn("nut", one.string, 1, (3,), float(rng.uniform(*low))))
    return Sheet(instrument, _some(rng, found))


def _some(rng: Rng, found: list[Drawn]) -> tuple[Drawn, ...]:
    """Return what is read of it: all, relief and action, action alone, or only the outer strings."""
    which = int(rng.integers(0, 4))
    if which == 1:
        found = [one for one in found if one.role != "nut"]
    elif which == 2:
        found = [one for one in found if one.role == "action"]
    elif which == 3:
        outer = {min(one.string for one in found), max(one.string for one in found)}
        found = [one for one in found if one.string in outer]
    return tuple(found)


Rounding = Callable[[Drawn], float]


def millimetres(rng: Rng) -> Rounding:
    """Return how one bench writes mm: to 0.01, to 0.05, or actions to 0.1 and the rest to 0.01."""
    action, fine = [(0.01, 0.01), (0.05, 0.05), (0.1, 0.05), (0.05, 0.01), (0.1, 0.01)][
        int(rng.integers(0, 5))
    ]

    def written(one: Drawn) -> float:
        step = action if one.role == "action" else fine
        return round(round(one.mm / step) * step, 4)

    return written


def inches(rng: Rng) -> Rounding:
    """Return how one bench writes inches: thousandths, half thousandths, or a ruler's 64ths for actions."""
    way = int(rng.integers(0, 4))

    def written(one: Drawn) -> float:
        inch = one.mm / INCH_MM
        if way == 3 and one.role == "action":
            return round(round(inch * 64) / 64, 3)
        step = 0.0005 if way == 2 else 0.001
        return round(round(inch / step) * step, 4)

    return written


def sixty_fourths(one: Drawn) -> float:
    """Return an action as a ruler's 64ths, counted and typed bare."""
    return float(max(round(one.mm / INCH_MM * 64), 1))


def service_of(sheet: Sheet, written: Callable[[int, Drawn], float]) -> Service:
    """Return the sheet as a service whose figures stand as `written` (by place and figure), all as mm."""
    readings = tuple(
        Gap(string=one.string, fret=one.fret, held=one.held, mm=written(at, one))
        for at, one in enumerate(sheet.figures)
    )
    return Service(instrument=sheet.instrument, readings=readings)


def with_figures(sheet: Sheet, figures: tuple[Drawn, ...]) -> Sheet:
    """Return the sheet with only these figures."""
    return replace(sheet, figures=figures)
