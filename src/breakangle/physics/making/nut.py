"""Nut making: where each slot's floor is, how high the blank, and at which angle; lengths in mm, all broadcast."""

from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats


def floor_over_crowns_mm(*, clearance_mm: ArrayLike, first_mm: ArrayLike, held_mm: ArrayLike) -> Array:
    """Return how high a slot's floor stands over the line of the crowns, mm.

    `clearance_mm`: over the first crown with a further one held; `first_mm`, `held_mm`: where both lie from the nut.

    Source: a straight line from the floor to the crown that is held: floor = c / (1 − x₁/x_held) [derived].
    """
    share = floats(first_mm) / floats(held_mm)
    return floats(clearance_mm) / (1.0 - share)


def blank_height_mm(floor_mm: ArrayLike, diameter_mm: ArrayLike, buried_ratio: ArrayLike) -> Array:
    """Return how high the nut's top stands over its seat under a string that lies in it by `buried_ratio`, mm.

    `floor_mm`: of the slot over the nut's seat. Source: the sum [derived].
    """
    return floats(floor_mm) + floats(buried_ratio) * floats(diameter_mm)
