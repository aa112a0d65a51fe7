"""The bent neck: how high each place on the fret line stands above the line it leaves the body with.

The frame is the body's: the fret line's tangent at the joint fret is height zero, up is positive. Whatever
bends the neck therefore moves the nut end, and leaves the saddle where it is.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
# Chosen: how many shapes a neck bends in here.
SHAPE_COUNT = 3


def bending_shapes(place_ratio: Array) -> Array:
    """Return the heights, in mm, of three neck shapes whose curvature has a sag of 1 mm, shape (3, ...).

    `place_ratio` u is the distance from the nut over that of the joint fret (0 nut, 1 joint; past the joint
    all shapes are zero). Curvature is spread over the free neck as the shifted Legendre polynomials 1,
    1 - 2u and 6u² - 6u + 1: even bending; more at the nut end than at the heel; more at both ends than in
    the middle. The height is 8 ∫ᵤ¹ (t - u) P(t) dt: a beam clamped at the body. The 8 makes the amplitude of
    the first shape its sag below the straight line from nut to joint.

    Source: Euler-Bernoulli beam, twice integrated curvature; [derived].
    """
    u = np.minimum(place_ratio, 1.0)
    even = 4.0 * (1.0 - u) ** 2
    nut_end = 8.0 * (-1.0 / 6.0 + u**2 / 2.0 - u**3 / 3.0)
    both_ends = 4.0 * u**2 * (1.0 - u) ** 2
    return np.stack([even, nut_end, both_ends])


def board_drop_mm(sideways_mm: Array, radius_mm: Array) -> Array:
    """Return how far the board's surface lies below its crest, in mm (positive), at `sideways_mm`.

    `radius_mm` may be infinite (a flat board). Both broadcast.

    Source: circle, R - sqrt(R² - z²), written so that it does not cancel at large R.
    """
    z = np.abs(sideways_mm)
    curvature = 1.0 / radius_mm
    return np.asarray(z**2 * curvature / (1.0 + np.sqrt(1.0 - (z * curvature) ** 2)))
