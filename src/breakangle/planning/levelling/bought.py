"""What levelling buys: the lowest action that is clean before and after, and how few readings show that it worked."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.levelling.chance import touch_chance
from breakangle.planning.levelling.conditions import conditions_of
from breakangle.planning.levelling.heights import Heights
from breakangle.planning.levelling.least_metal import Wanted, over_to_be_sure_mm
from breakangle.planning.levelling.plan import (
    FINEST_MM,
    FIRST_SPREADS,
    MARGIN_MM,
    SET_SPREAD_MM,
    Asked,
    LevellingPlan,
)

Array = NDArray[np.float64]
LOWEST_LOOKED_MM = 0.2  # no string is set lower; chosen
FEW = 4  # crowns read after the work; chosen
# Rocker and file together: what a crown may read beside its figure, 19 times in 20; common practice, no source.
CHECK_WITHIN_MM = 0.03


@dataclass(frozen=True)
class Check:
    """A crown to read by rocker after the work: what it should then read over the two beside it, mm."""

    string: int
    fret: int
    mm: float


@dataclass(frozen=True)
class Bought:
    """What the metal buys: lowest clean action, mean over the strings, mm, before and after; the chance unlevelled.

    `touch_unlevelled`: that a note touches at the action asked for with the crowns left as they are.
    """

    lowest_before_mm: float
    lowest_after_mm: float
    touch_unlevelled: float
    checks: tuple[Check, ...]


def bought(
    heights: Heights, swing_mm: Array, asked: Asked, plan: LevellingPlan, filed_mm: Array | None = None
) -> Bought:
    """Return what a plan buys; `heights` are those before it, `filed_mm` (S, F) what came off by work already done."""
    before = lowest_mm(heights, swing_mm, asked)
    after = lowest_mm(heights.cut(plan.off_mm), swing_mm, asked) if plan.frets else before
    return Bought(before, after, touch_as_asked(heights, swing_mm, asked), checks_of(plan, filed_mm))


def lowest_mm(heights: Heights, swing_mm: Array, asked: Asked) -> float:
    """Return the lowest action at which no note touches, no metal off, mean over the strings as asked for, mm."""
    down = float(asked.action_mm.min()) - LOWEST_LOOKED_MM
    conditions = conditions_of(heights, swing_mm)
    spread = conditions.spread_mm(SET_SPREAD_MM if heights.covariance.any() else (0.0, 0.0))
    none = np.zeros((heights.string_count, heights.fret_count))
    wanted = Wanted(
        asked.action_mm - down, asked.nut_mm, asked.relief_mm, none, MARGIN_MM, FIRST_SPREADS, asked.zero_fret
    )
    return float(asked.action_mm.mean()) - down + over_to_be_sure_mm(conditions, wanted, spread)


def touch_as_asked(heights: Heights, swing_mm: Array, asked: Asked) -> float:
    """Return the chance that a note touches at the action asked for, crowns left as they are, nut as it stands."""
    relief = float(np.clip(heights.relief_mm, *asked.relief_mm))
    still = np.zeros(heights.string_count)
    there = heights.set_up(relief, still, still)
    last = np.full(heights.string_count, heights.fret_count + 1)
    saddle = (asked.action_mm - there.action_mm()) / heights.share(
        heights.action_stop, heights.action_crown, last
    )
    conditions = conditions_of(there.set_up(relief, still, saddle), swing_mm)
    spread = SET_SPREAD_MM if heights.covariance.any() else (0.0, 0.0)
    return touch_chance(conditions, conditions.gap_mm - conditions.need_mm, spread).any_touch


def checks_of(plan: LevellingPlan, filed_mm: Array | None = None) -> tuple[Check, ...]:
    """Return the few crowns whose reading after the work tells most: the likeliest to touch, then the most filed."""
    filed = plan.off_mm + (0.0 if filed_mm is None else filed_mm)
    weight = plan.chance.by_crown / max(float(plan.chance.by_crown.max()), 1e-12) + filed
    weight = np.where(filed >= FINEST_MM, weight, 0.0)
    weight[:, [0, -1]] = 0.0
    for string, first in enumerate(plan.heights.first.tolist()):
        weight[string, : first + 1] = 0.0
    found: list[Check] = []
    for at in np.argsort(-weight, axis=None):
        string, crown = (int(one) for one in np.unravel_index(int(at), weight.shape))
        if len(found) == FEW or weight[string, crown] <= 0.0:
            break
        if all(one.fret != crown + 1 for one in found):
            found.append(Check(string + 1, crown + 1, _over_neighbours_mm(plan.heights, string, crown + 1)))
    return tuple(sorted(found, key=lambda one: (one.fret, one.string)))


def _over_neighbours_mm(heights: Heights, string: int, fret: int) -> float:
    x, y = heights.along_mm[string], heights.height_mm[string]
    share = (x[fret] - x[fret - 1]) / (x[fret + 1] - x[fret - 1])
    return float(y[fret] - (1.0 - share) * y[fret - 1] - share * y[fret + 1])
