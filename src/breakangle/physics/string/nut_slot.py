"""A string in its nut slot: whether it goes in, and how much higher it sits when it does not."""

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats


def perched_mm(*, string_diameter_mm: ArrayLike, slot_width_mm: ArrayLike, slot_depth_mm: ArrayLike) -> Array:
    """How far in mm a string too thick for its slot sits above where one that fits would lie.

    The slot has a round bottom and straight walls; the string rests on its two edges: h + sqrt(R^2 - r^2) - R with
    R half the string, r half the slot and h its depth, which is at least r. Zero where the string fits.

    Source: a circle on the two edges of a slot [derived].
    """
    R, r = floats(string_diameter_mm) / 2.0, floats(slot_width_mm) / 2.0  # noqa: N806
    above = np.maximum(floats(slot_depth_mm), r) + np.sqrt(np.maximum(R**2 - r**2, 0.0)) - R
    return np.where(r < R, above, 0.0)


def wedged_mm(
    *, string_diameter_mm: ArrayLike, former_diameter_mm: ArrayLike, slot_angle_degrees: ArrayLike
) -> Array:
    """How far in mm the underside moves up when a string of another size lies in a V-shaped slot.

    The underside of a circle in a V of full angle w lies R (1/sin(w/2) - 1) above the point of the V.

    Source: a circle between two straight walls [derived].
    """
    half = np.radians(floats(slot_angle_degrees)) / 2.0
    grown = (floats(string_diameter_mm) - floats(former_diameter_mm)) / 2.0
    moved: Array = grown * (1.0 / np.sin(half) - 1.0)
    return moved
