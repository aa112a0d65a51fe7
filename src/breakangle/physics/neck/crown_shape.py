"""A crown's cross-section: how wide the flat is that a file leaves on it, and where the string then ends.

The crown is taken as a circular arc over its own width and height.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
CENTS_PER_OCTAVE = 1200.0  # exact: an octave is 1200 cents


def crown_radius_mm(width_mm: ArrayLike, height_mm: ArrayLike) -> Array:
    """Return the radius in mm of the arc that is `width_mm` wide at its foot and `height_mm` high.

    Source: circle, R = (w²/4 + h²) / (2 h) [derived]. Both broadcast.
    """
    width, height = np.asarray(width_mm, dtype=np.float64), np.asarray(height_mm, dtype=np.float64)
    return np.asarray((width**2 / 4.0 + height**2) / (2.0 * height))


def flat_width_mm(off_mm: ArrayLike, width_mm: ArrayLike, height_mm: ArrayLike) -> Array:
    """Return how wide the flat is, mm, once `off_mm` was filed off a crown; never wider than the crown.

    Source: chord of a circle, b = 2 √(2 R d − d²) [derived]. All broadcast.
    """
    off = np.maximum(np.asarray(off_mm, dtype=np.float64), 0.0)
    radius = crown_radius_mm(width_mm, height_mm)
    chord = 2.0 * np.sqrt(np.maximum(2.0 * radius * off - off**2, 0.0))
    return np.asarray(np.minimum(chord, width_mm))


def flat_cents(flat_mm: ArrayLike, sounding_mm: ArrayLike) -> Array:
    """Return how many cents sharp a flat makes a stopped note: the string ends at the flat's edge toward the bridge.

    The contact moves by half the flat's width, so the sounding length `sounding_mm` is shorter by that. Both broadcast.

    Source: f ∝ 1/L at constant pull [derived].
    """
    share = 0.5 * np.asarray(flat_mm, dtype=np.float64) / np.asarray(sounding_mm, dtype=np.float64)
    return np.asarray(-CENTS_PER_OCTAVE * np.log2(1.0 - share))
