"""One crown under several strings: where it serves all of them best, and what each is left with."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from breakangle.physics.string.laws import CENTS_PER_NEPER

Array = NDArray[np.float64]


def common_setback_mm(setback_mm: ArrayLike) -> float:
    """The setback in mm at which the worst-served of the strings, each wanting its own `setback_mm` (S,), is off least.

    Source: the middle of the farthest two: least greatest miss. [derived]
    """
    wanted = np.asarray(setback_mm, dtype=np.float64)
    return float((wanted.min() + wanted.max()) / 2.0)


def left_cents(*, setback_mm: ArrayLike, common_mm: ArrayLike, length_mm: ArrayLike) -> Array:
    """Cents by which each string's octave is sharp (positive) where its crown stands at `common_mm`, not at its own.

    Source: octave of a string of length L whose saddle is moved by x: -C x/L, Anderson and Beausoleil (2024),
        J. Acoust. Soc. Am. 156, 683, error -(g - 1) dS/L at the 12th fret, g = 2.
    """
    own, common, length = (
        np.asarray(value, dtype=np.float64) for value in (setback_mm, common_mm, length_mm)
    )
    return np.asarray(CENTS_PER_NEPER * (own - common) / length)
