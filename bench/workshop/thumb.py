"""The other way to service an instrument: by rules of thumb, with the same gauges, hands and minutes.

A round: tune and read one full set; whatever reads outside is answered by its rule, all of it in one go:

- relief: the rod, to the nearest eighth, by what a rod of the family does on average;
- action: the saddle by twice the error, with its screw, its post, or cut down over the whole saddle taken out once;
- first-fret clearance: the slot filed by what it reads too high;
- octave: the saddle by error × length × ln 2 / 1200, with its screw, or its crown shaped, or a loose bridge slid.

Rounds go on until all reads inside, or until nothing that reads outside can be answered. A figure that no instrument
comes in with is read a second time, as anybody would; from the second round on every figure that reads outside is
read a second time, and answered only if it is outside again, by the mean of both.
"""

import numpy as np

from bench.workshop import figures
from bench.workshop.hands import POSTS_OUTSIDE_RATIO, Hands
from bench.workshop.instrument import CENTS_PER_OCTAVE, WorkshopInstrument
from bench.workshop.maker import Standing
from bench.workshop.readings import Reader
from bench.workshop.sizes import is_loose
from bench.workshop.wanted import asked_for, figure_of, out_by_truth, tolerance_of, wanted_of
from breakangle.model.reading import Adjustment, Reading, Target
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.reference.families import family

MOST_ROUNDS = 12
# So far from what is wanted a figure is read a second time.
ODD = {"relief": 0.5, "action": 1.3, "nut": 0.45, "intonation": 40.0}
FINEST_MM = 0.02  # less is not cut or filed


def by_rule_of_thumb(one: WorkshopInstrument, seed: int, coarse_nut: bool = False) -> tuple[Standing, int]:
    """Work by rules of thumb until all reads inside; return where the instrument then stands, and the rounds."""
    rng = np.random.default_rng(figures.MAKER_SEED + seed)
    hands, reader = Hands(one, rng), Reader(one, rng, coarse_nut)
    targets, rounds = wanted_of(one), 0
    for _ in range(MOST_ROUNDS):
        hands.take([Tune()])
        off = _read(targets, reader, hands, twice=rounds > 0)
        if not _answered(one, hands, targets, off):
            break
        rounds += 1
    hands.settle()
    standing = Standing(
        out=out_by_truth(one, targets),
        out_wide=out_by_truth(one, targets, wide=True),
        minutes=hands.minutes,
        asked=0,
        checks=0,
        eighths=hands.eighths,
        trips=rounds,
        verdict="",
    )
    return standing, rounds


def _read(targets: tuple[Target, ...], reader: Reader, hands: Hands, twice: bool) -> list[float]:
    """Return how far every figure reads from what is wanted; `twice`: what reads outside is read once more."""
    readings = reader.full_set()
    hands.minutes += figures.READING_MIN * len(readings)
    found = []
    for target in targets:
        off = _value(target, readings) - asked_for(target)
        odd, out = abs(off) > ODD[figure_of(target)], abs(off) > tolerance_of(target) + 1e-9
        if odd or (twice and out):
            again = reader.read([_place(target, readings)])
            hands.minutes += figures.READING_MIN * len(again)
            second = _value(target, again) - asked_for(target)
            inside = abs(second) <= tolerance_of(target) + 1e-9
            off = second if odd or inside else 0.5 * (off + second)
        found.append(off)
    return found


def _place(target: Target, readings: list[Reading]) -> Reading:
    held = getattr(target, "held", None)
    what = "pitch" if held is None else "gap"
    return next(
        r for r in readings
        if (r.quantity, r.string, r.fret, getattr(r, "held", None)) == (what, target.string, target.fret, held)
    )  # fmt: skip


def _value(target: Target, readings: list[Reading]) -> float:
    read = _place(target, readings)
    if read.quantity == "gap":
        return float(read.mm)  # type: ignore[attr-defined]
    opened = next(r for r in readings if r.quantity == "pitch" and r.string == target.string and r.fret == 0)
    return float(read.cents - opened.cents)  # type: ignore[attr-defined]


def _answered(one: WorkshopInstrument, hands: Hands, targets: tuple[Target, ...], off: list[float]) -> bool:
    """Do one round; return whether anything was done."""
    read = list(zip(targets, off, strict=True))
    wrong = [(target, error) for target, error in read if abs(error) > tolerance_of(target) + 1e-9]
    by = {what: [pair for pair in wrong if figure_of(pair[0]) == what] for what in ODD}
    turns = (
        _turns(one, [error for target, error in read if figure_of(target) == "relief"])
        if by["relief"]
        else 0.0
    )
    rod: list[Adjustment] = [RodTurn(turns=turns)] if turns else []
    heights = _heights(one, by["action"])
    # A slot is as deep as a nut is high, whatever has been written down for it.
    slots = [
        NutSlot(string=t.string, mm=-min(error, figures.DEEPEST_SLOT_MM))
        for t, error in by["nut"]
        if error > FINEST_MM
    ]
    places = [
        SaddlePosition(string=t.string, mm=float(np.clip(error * _per_cent(one, t.string), -8.0, 8.0)))
        for t, error in by["intonation"]
    ]
    by_hand = one.instrument.bridge.position_mm_per_turn is None and not is_loose(one.instrument)
    trips = [rod, [*heights, *places], slots] if by_hand else [rod, heights, slots, places]
    for trip in trips:
        if trip:
            hands.take(trip)
    return any(trips)


def _per_cent(one: WorkshopInstrument, string: int) -> float:
    length = float(one.scale_mm[string - 1] - one.fret_x[string - 1, one.first[string - 1]])
    return length * float(np.log(2.0)) / CENTS_PER_OCTAVE


def _turns(one: WorkshopInstrument, relief: list[float]) -> float:
    """Return the turns for the mean of both edges, to the nearest eighth."""
    average = family(one.instrument.kind).rod
    if average is None or one.instrument.rod.kind == "none":
        return 0.0
    turns = -float(np.mean(relief)) / average.relief_mm_per_turn.mean
    return float(np.clip(np.round(turns * 8) / 8, -1.5, 1.5))


def _heights(one: WorkshopInstrument, wrong: list[tuple[Target, float]]) -> list[Adjustment]:
    """Return the heights for strings that read outside: twice the error, downward only where a saddle is cut."""
    kind = one.instrument.bridge.kind
    asked = {target.string: -2.0 * error for target, error in wrong}
    if kind == "two-post" and asked:
        sides = np.array([one.sides[string - 1] for string in asked])
        level = float(np.mean(list(asked.values())))
        slope = float(np.polyfit(sides, list(asked.values()), 1)[0]) if len(np.unique(sides)) > 2 else 0.0
        tilt = slope * POSTS_OUTSIDE_RATIO
        middle = level - slope * float(np.mean(sides))
        return [SaddleHeight(post="bass", mm=middle - tilt), SaddleHeight(post="treble", mm=middle + tilt)]
    if kind == "one-piece":
        asked = {string: mm for string, mm in asked.items() if mm < -FINEST_MM}
    return [SaddleHeight(string=string, mm=round(max(min(mm, 4.0), -4.0), 3)) for string, mm in asked.items()]
