"""The levelling plan: least metal at the action asked for, how sure it is, what is left, and what it comes to."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.neck.crown_shape import flat_cents, flat_width_mm
from breakangle.planning.levelling.chance import Chance, read_next, touch_chance
from breakangle.planning.levelling.conditions import Conditions, conditions_of
from breakangle.planning.levelling.heights import Heights
from breakangle.planning.levelling.least_metal import LeastMetal, Wanted, least_metal, over_to_be_sure_mm

Array = NDArray[np.float64]
Verdict = Literal["leave", "spot-level", "level-all", "partial-refret", "refret", "no-metal"]
# Where nothing else is said below: common practice, no source.
MARGIN_MM = 0.01  # beside the swing of every note: strings differ from their tables, hands and files from their figures
FINEST_MM = 0.005  # less metal is not worth a stroke of the file
SPOT_SHARE = 1.0 / 3.0  # more frets than that are levelled with a beam over all
REFRET_SHARE = 0.5  # more frets too low than that are all renewed
LEAST_CROWN_MM = 0.6  # lower crowns stop a string badly
SET_SPREAD_MM = (0.03, 0.01)  # action and nut clearance as a hand sets them
# Chosen: how likely a touch may be, and how sure the search starts, steps and ends.
ROUNDED_MM = 1e-6  # chosen: what a solver leaves of nothing
MOST_CHANCE = 0.01
FIRST_SPREADS, STEP_SPREADS, MOST_STEPS = 2.8, 0.5, 3


@dataclass(frozen=True)
class Crowns:
    """What is there to take from: crown heights above the board (S, F) and width at the foot, mm."""

    height_mm: Array
    width_mm: float
    least_mm: float = LEAST_CROWN_MM

    @property
    def room_mm(self) -> Array:
        """Return the most that may come off each crown, mm, shape (S, F)."""
        return np.maximum(self.height_mm - self.least_mm, 0.0)


@dataclass(frozen=True)
class Asked:
    """The set-up asked for: action and nut clearance at most (S,), relief from and to, all mm; a zero fret or a nut."""

    action_mm: Array
    nut_mm: Array
    relief_mm: tuple[float, float]
    zero_fret: bool = False


@dataclass(frozen=True)
class LevellingPlan:
    """What to take off and what it comes to; arrays over strings and frets (S, F) or strings (S,), mm.

    `action_mm`, `nut_mm`, `relief_mm`: the set-up it makes clean. `left_mm`: crown height left. `flat_mm`, `cents`:
    the flat to be crowned again, and how sharp it is until then. `times_left`: how often as much can come off again.
    `chance`: that a note still touches. `over_mm`: how much higher than asked the action must be for any metal
    to do; `sure_over_mm`: for it to do so surely.
    """

    verdict: Verdict
    off_mm: Array
    relief_mm: float
    action_mm: Array
    nut_mm: Array
    left_mm: Array
    flat_mm: Array
    cents: Array
    times_left: int
    chance: Chance
    touch_before: float
    over_mm: float
    sure_over_mm: float
    heights: Heights
    too_low: tuple[int, ...]

    @property
    def frets(self) -> tuple[int, ...]:
        """Return the frets that lose metal, from 1."""
        return tuple(int(one) + 1 for one in np.flatnonzero((self.off_mm >= FINEST_MM).any(axis=0)))

    @property
    def metal_mm(self) -> float:
        """Return all metal that comes off, summed over strings and frets, mm."""
        return float(self.off_mm.sum())

    @property
    def sides_mm(self) -> Array:
        """Return what comes off each fret at the bass and at the treble side, mm, shape (F, 2)."""
        half = (len(self.off_mm) + 1) // 2
        return np.stack([self.off_mm[-half:].max(axis=0), self.off_mm[:half].max(axis=0)], axis=1)

    @property
    def read_next(self) -> tuple[int, int] | None:
        """Return string and fret of the crown whose reading would decide most; None where nothing is open."""
        return read_next(self.chance)


def levelling_plan(heights: Heights, swing_mm: Array, asked: Asked, crowns: Crowns) -> LevellingPlan:
    """Return the plan with the least metal by which no note touches in the set-up asked for.

    Args:
        heights: of nut, crowns and saddle, and how surely the crowns are known.
        swing_mm: how far every note swings down over every crown, shape (S, F + 1, F): string, stop, crown.
        asked: the set-up.
        crowns: how much metal there is.
    """
    conditions = conditions_of(heights, swing_mm)
    too_low = _too_low(heights, crowns)
    room = np.where(np.isin(np.arange(1, heights.fret_count + 1), too_low), np.inf, crowns.room_mm)
    wanted = Wanted(
        asked.action_mm, asked.nut_mm, asked.relief_mm, room, MARGIN_MM, FIRST_SPREADS, asked.zero_fret
    )
    found, chance, sure_over = _sure_enough(conditions, wanted)
    off = np.where(found.off_mm < ROUNDED_MM, 0.0, found.off_mm)
    return _told(conditions, found, off, (chance, sure_over), crowns, too_low)


def _too_low(heights: Heights, crowns: Crowns) -> tuple[int, ...]:
    """Return the frets that are below the least height as they stand."""
    del heights
    return tuple(int(one) + 1 for one in np.flatnonzero((crowns.height_mm < crowns.least_mm).any(axis=0)))


def _set_spread(conditions: Conditions) -> tuple[float, float]:
    """Return how far off action and nut may be set; nothing where crowns are known exactly."""
    return SET_SPREAD_MM if conditions.heights.covariance.any() else (0.0, 0.0)


def _sure_enough(conditions: Conditions, wanted: Wanted) -> tuple[LeastMetal, Chance, float]:
    """Return the least metal whose chance of a touch is small, or the surest there is; and what action is lacking."""
    set_spread = _set_spread(conditions)
    spread = conditions.spread_mm(set_spread)
    for _ in range(MOST_STEPS):
        found = least_metal(conditions, wanted, spread)
        chance = touch_chance(conditions, _left(conditions, found), set_spread)
        if chance.any_touch <= MOST_CHANCE or found.spreads < wanted.spreads or not spread.any():
            break
        wanted = replace(wanted, spreads=wanted.spreads + STEP_SPREADS)
    if found.over_mm > 0.0 or chance.any_touch <= MOST_CHANCE:
        return found, chance, found.over_mm
    return found, chance, over_to_be_sure_mm(conditions, wanted, spread)


def _left(conditions: Conditions, found: LeastMetal) -> Array:
    """Return gap less swing of every condition after the plan, mm, shape (M,)."""
    moved = np.concatenate(
        [found.off_mm.ravel(), [found.relief_change_mm], found.nut_move_mm, found.saddle_move_mm]
    )
    return np.asarray(conditions.gap_mm + conditions.rows @ moved - conditions.need_mm)


def _told(
    conditions: Conditions,
    found: LeastMetal,
    off: Array,
    judged: tuple[Chance, float],
    crowns: Crowns,
    too_low: tuple[int, ...],
) -> LevellingPlan:
    chance, sure_over = judged
    before = conditions.heights
    after = before.cut(off).set_up(
        before.relief_mm + found.relief_change_mm, found.nut_move_mm, found.saddle_move_mm
    )
    sounding = before.along_mm[:, -1:] - before.along_mm[:, 1:-1]
    flat = flat_width_mm(off, crowns.width_mm, np.maximum(crowns.height_mm, crowns.least_mm))
    left = crowns.height_mm - off
    most = float(off.max())
    again = int(np.min(np.maximum(left - crowns.least_mm, 0.0)) // most) if most >= FINEST_MM else 99
    return LevellingPlan(
        verdict=_verdict(off, found.over_mm, too_low, before.fret_count),
        off_mm=off,
        relief_mm=after.relief_mm,
        action_mm=after.action_mm(),
        nut_mm=after.nut_mm(),
        left_mm=left,
        flat_mm=flat,
        cents=flat_cents(flat, sounding),
        times_left=again,
        chance=chance,
        touch_before=_touch_before(conditions),
        over_mm=found.over_mm,
        sure_over_mm=sure_over,
        heights=after,
        too_low=too_low,
    )


def _touch_before(conditions: Conditions) -> float:
    """Return the chance that a note touches as the board stands."""
    set_spread = _set_spread(conditions)
    return touch_chance(conditions, conditions.gap_mm - conditions.need_mm, set_spread).any_touch


def _verdict(off: Array, over_mm: float, too_low: tuple[int, ...], frets: int) -> Verdict:
    """Return what the plan comes to in one word."""
    cut = int((off >= FINEST_MM).any(axis=0).sum())
    if len(too_low) > REFRET_SHARE * frets:
        return "refret"
    if too_low:
        return "partial-refret"
    if over_mm > 0.0:
        return "no-metal"
    if not cut:
        return "leave"
    return "spot-level" if cut <= SPOT_SHARE * frets else "level-all"
