"""A bridge that stands loose is slid as a whole: how far, from what all its strings need together."""

from collections.abc import Sequence

import numpy as np

from breakangle.model.plan import Step
from breakangle.planning.adjustments.saddle_position import SaddlePosition
from breakangle.planning.estimate import Estimate
from breakangle.planning.loose import stands_loose
from breakangle.planning.sight import Sight

WORTH_SLIDING_MM = 0.3  # less cannot be set by eye against a mark; common practice, no source
SHARE_OF_STRINGS = 0.5  # so many of them must have been read


def slide_in_words(now: Estimate, before: Sight, after: Sight, steps: Sequence[Step]) -> list[str]:
    """Return which way and how far to slide the whole bridge, where it stands loose and its strings ask for that."""
    if not stands_loose(now.board.instrument):
        return []
    mean = _mean_need_mm(now, before, after, steps)
    if mean is None or abs(mean) < WORTH_SLIDING_MM:
        return []
    way = "back, away from the nut," if mean > 0.0 else "forward, toward the nut,"
    own = " What stands below for each string is from where it stands now." if _slid(steps) else ""
    return [
        f"Slide the whole bridge {way} about {abs(mean):.1f} mm: it stands loose, and the strings' pull holds it. Mark "
        f"its place first; then tune, and read intonation again before anything is shaped.{own}"
    ]


def _slid(steps: Sequence[Step]) -> dict[int, float]:
    return {
        one.adjustment.string: one.adjustment.mm
        for one in steps
        if isinstance(one.adjustment, SaddlePosition)
    }


def _mean_need_mm(now: Estimate, before: Sight, after: Sight, steps: Sequence[Step]) -> float | None:
    """Return how far the strings would have their bridge go, on the mean; None where that is not known, or all is well.

    Of each string: what the steps move it, and what would then still be off.
    """
    setback, slid = now.picture.layout["saddle_setback"], _slid(steps)
    pitched = [
        index
        for index, one in enumerate(before.targets)
        if one.quantity == "intonation" and before.judged[index]
    ]
    outside = any(not after.inside[index] for index in pitched)
    if len(pitched) < SHARE_OF_STRINGS * now.board.string_count or not (slid or outside):
        return None
    strings = [before.targets[index].string for index in pitched]
    per_mm = after.rows[pitched, setback[np.array(strings) - 1]]
    moved = np.array([slid.get(string, 0.0) for string in strings])
    return float(np.mean(moved - after.off[pitched] / per_mm))
