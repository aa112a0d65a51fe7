"""One workshop instrument read, worked on and strung anew: every figure that was stated, beside the truth."""

import copy
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from bench.workshop.arrivals import arrival
from bench.workshop.hands import Hands
from bench.workshop.instrument import WorkshopInstrument
from bench.workshop.readings import Reader
from bench.workshop.strung_anew import another_set, string_anew
from bench.workshop.touching import touched
from breakangle.model.reading import Adjustment, Reading, Target
from breakangle.model.service import Service
from breakangle.planning.buzz.buzz_map import buzz_map
from breakangle.planning.estimate.estimate import Estimate, adjusted, estimate
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.targets.gap import GapTarget
from breakangle.planning.kinds.targets.intonation import IntonationTarget
from breakangle.planning.swap.forecast import strung_with, swapped
from breakangle.reference.strength import STRENGTHS, playing

PITCH_FRETS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 15)
ACTION_FRETS = (5, 7, 9, 12, 15, 17)
LOW_FRETS = (1, 2, 3, 4)
ROD_TURNS = (-0.25, -0.125, 0.125, 0.25)
COVERING_SPREADS = 1.959964  # of a normal figure, 95 in 100
Key = tuple[str, int, str]


@dataclass
class Figures:
    """Of one instrument, by kind, fret and state: inside (0 or 1), width and misses in spreads; and notes that buzz.

    `buzz`: rows of said probability and whether the note truly touches. `arm`: what was read beside a full set.
    """

    arm: str
    inside: dict[Key, list[bool]] = field(default_factory=dict)
    width: dict[Key, list[float]] = field(default_factory=dict)
    spreads: dict[Key, list[float]] = field(default_factory=dict)
    buzz: list[tuple[float, bool]] = field(default_factory=list)


def asked_of(one: WorkshopInstrument) -> list[tuple[str, int, Target]]:
    """Return every figure that is asked for: its kind, its fret and what it is, as a target."""
    found: list[tuple[str, int, Target]] = []
    for n in range(1, one.count + 1):
        first, held, relief = one.first[n - 1], one.action_held(n), one.relief_at
        if first == 0:
            found += [
                ("relief", relief, GapTarget(string=n, fret=relief, held=(1, one.joint), mm=0.1)),
                ("nut", 1, GapTarget(string=n, fret=1, held=(3,), mm=0.1)),
            ]
        found += [
            ("action", fret, GapTarget(string=n, fret=fret, held=held, mm=0.1))
            for fret in ACTION_FRETS
            if first + 1 < fret <= one.frets
        ]
        found += [
            ("pitch", fret, IntonationTarget(string=n, fret=first + fret))
            for fret in PITCH_FRETS
            if first + fret <= one.frets
        ]
    return found


def truth_of(one: WorkshopInstrument, target: Target) -> float:
    """Return what the figure truly is, in mm or cents."""
    if isinstance(target, GapTarget):
        return one.gap_mm(target.string, target.fret, target.held)
    assert isinstance(target, IntonationTarget)
    return one.stopped_cents(target.string, target.fret)


def compared(found: Figures, state: str, now: Estimate, one: WorkshopInstrument) -> None:
    """Add every figure stated of `now`, as a plan shows it, beside the truth of `one`."""
    asked = asked_of(one)
    seen = sight_of(now.stated, [target for _, _, target in asked])
    for (kind, fret, target), value, spread in zip(asked, seen.value, seen.spread, strict=True):
        true, half = truth_of(one, target), COVERING_SPREADS * float(spread)
        low, high = float(value) - half, float(value) + half
        if isinstance(target, GapTarget):  # no gauge and no truth is below nothing
            low, high = max(low, 0.0), max(high, 0.0)
        key = (kind, fret, state)
        found.inside.setdefault(key, []).append(low - 1e-9 <= true <= high + 1e-9)
        found.width.setdefault(key, []).append(2.0 * half)
        found.spreads.setdefault(key, []).append((true - float(value)) / max(float(spread), 1e-9))


def work_on(one: WorkshopInstrument, rng: np.random.Generator) -> list[Adjustment]:
    """Return a set-up's work, chosen blindly: heights, slots and places, the rod on half of the instruments."""
    found: list[Adjustment] = []
    kind = one.instrument.bridge.kind
    if one.instrument.rod.kind != "none" and rng.random() < 0.5:
        found.append(RodTurn(turns=float(rng.choice(ROD_TURNS))))
    low = -0.3 if kind != "one-piece" else -0.4
    high = 0.3 if kind != "one-piece" else -0.1
    if kind == "individual":
        found += [
            SaddleHeight(string=n, mm=round(rng.uniform(low, high), 2)) for n in range(1, one.count + 1)
        ]
    else:
        found += [SaddleHeight(post=post, mm=round(rng.uniform(low, high), 2)) for post in ("bass", "treble")]  # type: ignore[arg-type]
    if one.instrument.nut.kind == "nut":
        some = [n for n in range(1, one.count + 1) if one.first[n - 1] == 0 and rng.random() < 0.5]
        found += [NutSlot(string=n, mm=-round(rng.uniform(0.02, 0.1), 2)) for n in some]
    if one.instrument.bridge.position_mm_per_turn is not None:
        found += [
            SaddlePosition(string=n, mm=round(rng.uniform(-1.0, 1.0), 2)) for n in range(1, one.count + 1)
        ]
    return [*found, Tune()]


def _done(
    one: WorkshopInstrument, now: Estimate, work: Sequence[Adjustment], seed: int
) -> tuple[WorkshopInstrument, Estimate]:
    """Return the instrument and what is believed of it after `work`, each by its own rules."""
    twin = copy.deepcopy(one)
    hands = Hands(twin, np.random.default_rng(seed))
    for step in work:
        hands.take([step])
        now = adjusted(now, step)
    return twin, now


def read_of(one: WorkshopInstrument, reader: Reader, arm: str) -> list[Reading]:
    """Return what was read: one full set, and by the arm pitches at the lowest frets or every crown."""
    readings = reader.full_set()
    if "low" in arm:
        readings += reader.written(
            [
                reader.pitch(n, one.first[n - 1] + fret)
                for n in range(1, one.count + 1)
                for fret in LOW_FRETS[:3]
            ]
        )
    if "crowns" in arm:
        readings += reader.written(
            [
                reader.crown(n, fret)
                for n in range(1, one.count + 1)
                for fret in range(one.first[n - 1] + 1, one.frets + 1)
            ]
        )
    return readings


ARMS = ("full set", "full set, low frets", "full set, crowns", "full set, low frets, crowns")


def figures_of(kind: str, bridge_kind: str | None, seed: int, mistyped_share: float, buzz: bool) -> Figures:
    """Return everything stated of instrument `seed` beside its truth, now, after a turn, after work, strung anew."""
    one = arrival(kind, seed, bridge_kind)
    rng = np.random.default_rng(7_000_003 + seed)
    Hands(one, rng).take([Tune()])
    reader = Reader(one, rng, mistyped_share=mistyped_share)
    found = Figures(ARMS[seed % len(ARMS)])
    service = Service(instrument=one.instrument, readings=tuple(read_of(one, reader, found.arm)))
    now = estimate(service)
    compared(found, "now", now, one)
    if buzz:
        _buzz(found, now, one)
    if one.instrument.rod.kind != "none":
        turned, then = _done(one, now, [RodTurn(turns=float(rng.choice(ROD_TURNS))), Tune()], seed)
        compared(found, "turned", then, turned)
    worked, then = _done(one, now, work_on(one, rng), seed + 1)
    compared(found, "then", then, worked)
    new = another_set(one.instrument, rng)
    anew = swapped(now, strung_with(one.instrument, new), replaced=range(1, one.count + 1)).after
    string_anew(one, new, rng)
    compared(found, "swap", anew, one)
    return found


def _buzz(found: Figures, now: Estimate, one: WorkshopInstrument) -> None:
    """Add how likely every note is said to touch, at every strength, and whether it truly does."""
    true = touched(one)
    place = {(int(s), int(n)): at for at, (s, n) in enumerate(zip(true.string, true.stop, strict=True))}
    said = buzz_map(now.picture, now.for_chances.belief, playing(one.instrument.kind), STRENGTHS, threads=1)
    for note in said.notes:
        at = place[note.string, note.stop]
        found.buzz.append((note.probability, bool(true.touches[at, STRENGTHS.index(note.strength)])))
