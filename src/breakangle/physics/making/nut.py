"""Nut making: where each slot's floor is, how high the blank, and at which angle; lengths in mm, all broadcast."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def _array(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def floor_over_crowns_mm(*, clearance_mm: ArrayLike, first_mm: ArrayLike, held_mm: ArrayLike) -> Array:
    """Return how high a slot's floor stands over the line of the crowns, mm.

    `clearance_mm`: over the first crown with a further one held; `first_mm`, `held_mm`: where both lie from the nut.

    Source: a straight line from the floor to the crown that is held: floor = c / (1 − x₁/x_held) [derived].
    """
    share = _array(first_mm) / _array(held_mm)
    return _array(clearance_mm) / (1.0 - share)


def equal_gaps_mm(spread_mm: float, widths_mm: ArrayLike) -> Array:
    """Return the middles of slots from the first, mm, with the same gap between all neighbours' edges, shape (N,).

    `spread_mm`: from the first middle to the last; `widths_mm` (N,): the strings' diameters.

    Source: gap = (spread − w₁/2 − w_N/2 − Σ inner) / (N − 1) [derived].
    """
    widths = np.asarray(widths_mm, dtype=np.float64)
    if len(widths) == 1:
        return np.zeros(1)
    gap = (spread_mm - widths.sum() + (widths[0] + widths[-1]) / 2.0) / (len(widths) - 1)
    return np.concatenate([[0.0], np.cumsum(gap + (widths[:-1] + widths[1:]) / 2.0)])


def blank_height_mm(floor_mm: ArrayLike, diameter_mm: ArrayLike, buried_ratio: ArrayLike) -> Array:
    """Return how high the nut's top stands over its seat under a string that lies in it by `buried_ratio`, mm.

    `floor_mm`: of the slot over the nut's seat. Source: the sum [derived].
    """
    return _array(floor_mm) + _array(buried_ratio) * _array(diameter_mm)
