"""A thin top: how a bridge leans on it, what that moves, and the radius of its dome; lengths in mm, all broadcast."""

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats


def bridge_lean_degrees(front_mm: ArrayLike, behind_mm: ArrayLike, span_mm: ArrayLike) -> Array:
    """Return how far a bridge leans toward the nut, degrees.

    `front_mm`: how much the top lies lower in front of it, `behind_mm`: how much higher behind it, than where it would
    lie level; `span_mm` between the two places. Source: the angle whose tangent is rise over way [derived].
    """
    return np.asarray(np.degrees(np.arctan2(floats(front_mm) + floats(behind_mm), floats(span_mm))))


def saddle_forward_mm(lean_degrees: ArrayLike, height_mm: ArrayLike) -> Array:
    """Return how far the saddle's top, `height_mm` over the top, comes toward the nut, mm.

    Source: h sin φ, the way of a point that turns about the top [derived].
    """
    return np.asarray(floats(height_mm) * np.sin(np.radians(floats(lean_degrees))))


def dome_radius_mm(rise_mm: ArrayLike, width_mm: ArrayLike) -> Array:
    """Return the radius of a dome that rises `rise_mm` over a straight-edge `width_mm` long, mm; infinite where flat.

    Source: sagitta of a circle, R = w²/(8 h) + h/2 [derived].
    """
    rise, width = floats(rise_mm), floats(width_mm)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(rise == 0.0, np.inf, width**2 / (8.0 * rise) + rise / 2.0))
