"""Patterns to plant on workshop instruments: how large, what is then true, and what is read beside a full set."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import atan, degrees

import numpy as np

from bench.workshop import patterns as planted
from bench.workshop.arrivals import put_right
from bench.workshop.instrument import WorkshopInstrument
from bench.workshop.wanted import figure_of, wanted_of
from breakangle.model.plan import Finding
from breakangle.model.reading import Reading
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.reference.families import family

GUITARS = ("electric-guitar", "steel-acoustic-guitar", "nylon-acoustic-guitar", "bass-four")
ONE_PIECE = ("steel-acoustic-guitar", "nylon-acoustic-guitar", "ukulele-concert", "twelve-string-guitar")
LOOSE = ("banjo-five", "banjo-tenor", "mandolin")


def edges(one: WorkshopInstrument) -> tuple[int, int]:
    """Return the strings at the bass and the treble edge that run from the nut."""
    full = [number for number in range(1, one.count + 1) if one.first[number - 1] == 0]
    return full[-1], full[0]


def crowns(one: WorkshopInstrument, frets: Sequence[int]) -> list[Reading]:
    """Return the crowns of these frets at both edges, to be read."""
    return [Crown(string=string, fret=fret, mm=0.0) for string in edges(one) for fret in frets]


def body_joint(one: WorkshopInstrument) -> list[Reading]:
    """Return the gaps that show the board's line around the body joint and to its end, to be read."""
    joint, last = one.joint, one.frets
    frets = sorted({joint - 4, joint, min(joint + 3, last), last})
    return [Gap(string=string, fret=fret, held=(1,), mm=0.0) for string in edges(one) for fret in frets]


@dataclass(frozen=True)
class Case:
    """One pattern to plant: `plant` puts a size on an instrument, and returns what is true of it afterwards."""

    name: str
    kinds: tuple[str, ...]
    tolerance: Callable[[WorkshopInstrument], float]
    plant: Callable[[WorkshopInstrument, float, np.random.Generator], Callable[[Finding], float]]
    beside: Callable[[WorkshopInstrument, np.random.Generator], list[Reading]] = lambda one, rng: []
    returning: bool = False

    @property
    def told(self) -> str:
        """Return its name, with how it was planted where a pattern is planted in two ways."""
        how = {_slant: ", askew", misplaced_nut: ", misplaced"}
        return self.name + how.get(self.plant, "")


def _relief_apart(one: WorkshopInstrument) -> float:
    bass, treble = edges(one)
    held = (1, one.joint)
    return one.clearance_mm(bass, one.relief_at, held) - one.clearance_mm(treble, one.relief_at, held)


def _twist(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    planted.twist(one, float(rng.choice([-1.0, 1.0])) * mm)
    put_right(one, rng)
    return lambda found: _relief_apart(one)


def reset(one: WorkshopInstrument, size: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    del rng
    planted.neck_angle(one, size)
    return lambda found: size


def high_fret(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    fret = int(rng.integers(2, one.frets - 1))
    planted.high_fret(one, fret, mm)
    one.planted["fret"] = fret
    rows = [number - 1 for number in edges(one)]
    return lambda found: float(one.crown_mm[rows, fret - 1].mean())


def _low_slot(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    full = [number for number in range(1, one.count + 1) if one.first[number - 1] == 0]
    string = int(rng.choice(full))
    planted.low_slot(one, string, mm)
    one.planted["string"] = string
    wanted = next(t.mm for t in wanted_of(one) if getattr(t, "held", ()) == (3,) and t.string == string)  # type: ignore[attr-defined]
    return lambda found: float(wanted - one.clearance_mm(string, 1, (3,)))


def misplaced_nut(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    """Set the nut off its place by `mm` along the neck, away from the first fret or nearer to it."""
    off = float(rng.choice([-1.0, 1.0])) * mm
    one.fret_x[:, 0] -= off
    put_right(one, rng)
    one.planted["misplaced-nut"] = off
    return lambda found: off


def _first_notes(one: WorkshopInstrument) -> list[Reading]:
    """Return the open notes and the notes at frets 1 to 3 of every string, to be read."""
    return [Pitch(string=n, fret=fret, cents=0.0) for n in range(1, one.count + 1) for fret in (1, 2, 3)]


def _slot_tolerance(one: WorkshopInstrument) -> float:
    wanted = [t.mm for t in wanted_of(one) if getattr(t, "held", ()) == (3,)]  # type: ignore[attr-defined]
    return float(np.mean(wanted)) - 0.01


def high_nut(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    del rng
    full = [number for number in range(1, one.count + 1) if one.first[number - 1] == 0]
    for string in full:
        planted.low_slot(one, string, -mm)
    wanted = [t for t in wanted_of(one) if getattr(t, "held", ()) == (3,)]
    return lambda found: float(
        np.mean([one.clearance_mm(t.string, 1, (3,)) - t.mm for t in wanted])  # type: ignore[attr-defined]
    )


def _off_mm(one: WorkshopInstrument) -> np.ndarray:
    """Return how far back every string's saddle stands from where its octave is in tune, mm."""
    return np.array(
        [
            -one.stopped_cents(number, one.octave_fret(number))
            * (one.scale_mm[number - 1] - one.fret_x[number - 1, one.first[number - 1]])
            * np.log(2.0)
            / 1200.0
            for number in range(1, one.count + 1)
        ]
    )


def _bridge(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    way = float(rng.choice([-1.0, 1.0]))
    planted.moved_bridge(one, way * mm)
    return lambda found: float(np.polyfit(one.sides, _off_mm(one), 1)[1])


def _slant(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    way = float(rng.choice([-1.0, 1.0]))
    planted.moved_bridge(one, 0.0, way * mm)
    return lambda found: float(np.polyfit(one.sides, _off_mm(one), 1)[0])


def _top(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    way = float(rng.choice([-1.0, 1.0]))
    planted.moved_top(one, way * mm)
    return lambda found: way * mm


def _plain(
    change: Callable[[WorkshopInstrument, float], None],
) -> Callable[[WorkshopInstrument, float, np.random.Generator], Callable[[Finding], float]]:
    def plant(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
        change(one, mm)
        put_right(one, rng)
        return lambda found: mm

    return plant


def _worn(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    planted.worn_first_position(one, mm)
    put_right(one, rng)
    rows = [number - 1 for number in edges(one)]
    read = np.sort(one.crown_mm[rows, :3].mean(axis=0))
    return lambda found: float(-read[:2].mean())


def _tongue(one: WorkshopInstrument, mm: float, rng: np.random.Generator) -> Callable[[Finding], float]:
    past = one.fret_x[:, -1] - one.fret_x[:, one.joint]
    planted.rising_tongue(one, mm - one.fall_ratio * float(past.mean()))
    put_right(one, rng)
    return lambda found: mm


def _reset_degrees(one: WorkshopInstrument) -> float:
    """Return what the bridge comes down by, and what strings may stay high by then, as an angle at the joint.

    A quarter more than the actions' tolerance at the bridge [common practice, no source], by equal temperament [exact].
    """
    reach = one.instrument.scale_mm * 2.0 ** (-one.joint / 12.0)
    travel = 2.0 if one.instrument.bridge.kind == "one-piece" else 3.0
    actions = [target for target in wanted_of(one) if figure_of(target) == "action"]
    shares = [1.0 - 2.0 ** (((target.held or (0,))[0] - target.fret) / 12.0) for target in actions]  # type: ignore[attr-defined]
    tolerances = [target.tolerance_mm for target in actions]  # type: ignore[attr-defined]
    may_stay = float(np.mean(np.array(tolerances) / np.array(shares)))
    return degrees(atan((travel + 1.25 * may_stay) / reach))


CASES = (
    Case("twist", GUITARS, lambda one: 2.0 * family(one.instrument.kind).tolerances.relief_mm, _twist),
    Case("neck-reset", (*ONE_PIECE, "electric-guitar"), _reset_degrees, reset),
    Case("rising-tongue", GUITARS, lambda one: 0.15, _tongue, lambda one, rng: body_joint(one)),
    Case("hump", GUITARS, lambda one: 0.08, _plain(planted.hump), lambda one, rng: body_joint(one)),
    Case(
        "worn-first-position", GUITARS, lambda one: 0.05, _worn,
        lambda one, rng: crowns(one, (1, 2, 3)),
    ),
    Case(
        "high-fret", GUITARS, lambda one: 0.05, high_fret,
        lambda one, rng: crowns(one, (int(one.planted["fret"]),)),
    ),
    Case("low-slot", GUITARS, _slot_tolerance, _low_slot),
    Case("high-nut", GUITARS, lambda one: 0.15, high_nut),
    Case("high-nut", GUITARS, lambda one: 1.5, misplaced_nut, lambda one, rng: _first_notes(one)),
    Case("moved-bridge", LOOSE, lambda one: 1.0, _bridge),
    Case("moved-bridge", LOOSE, lambda one: 1.0, _slant),
    Case("top-moved", ONE_PIECE, lambda one: 0.4, _top, returning=True),
    Case("head-moved", ("banjo-five", "banjo-tenor"), lambda one: 0.4, _top, returning=True),
)  # fmt: skip
