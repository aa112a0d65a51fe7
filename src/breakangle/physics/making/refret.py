"""Refret: how long each wire is, how it is bent, and what tangs wider than their slots do to the neck."""

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats


def wire_length_mm(width_mm: ArrayLike, radius_mm: ArrayLike, over_mm: ArrayLike) -> Array:
    """Return the length of wire for a fret across a board `width_mm` wide of `radius_mm`, `over_mm` at each end.

    An infinite radius is a flat board. Source: the arc over a chord, 2 R asin(w / 2R) [derived].
    """
    width, radius = floats(width_mm), floats(radius_mm)
    with np.errstate(invalid="ignore"):
        arc = np.where(
            np.isinf(radius), width, 2.0 * radius * np.arcsin(np.minimum(width / (2.0 * radius), 1.0))
        )
    return np.asarray(arc + 2.0 * floats(over_mm))


def back_bow_mm(
    *,
    tang_mm: ArrayLike,
    slot_mm: ArrayLike,
    frets: int,
    taken_ratio: ArrayLike,
    length_mm: ArrayLike,
    arm_ratio: ArrayLike,
    depth_mm: ArrayLike,
) -> Array:
    """Return how much relief a neck loses to tangs wider than their slots, mm, positive: bent back.

    `frets` slots along `length_mm`, each opened by `taken_ratio` of what its tang is too wide; the strain of the
    board's face bends a neck `depth_mm` deep by `arm_ratio` of what a strip that is stretched freely on its face would
    (face over mid-depth, and how much of the depth the slots reach). Zero where tangs are no wider.

    Source: strain ε = n k (t − s)/L at the face gives a curvature of a ε / h and a sag of curvature · L²/8 [derived].
    """
    wider = np.maximum(floats(tang_mm) - floats(slot_mm), 0.0)
    length, depth = floats(length_mm), floats(depth_mm)
    strain = frets * floats(taken_ratio) * wider / length
    return floats(arm_ratio) * strain / depth * length**2 / 8.0
