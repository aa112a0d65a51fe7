"""What friction at the nut keeps from the sounding string: between head and string the pull may differ by a share.

Letters: ``m`` coefficient of friction, ``a`` angle by which the string breaks over the nut, ``L`` sounding length,
``h`` length between nut and tuner, ``C`` 1200/ln 2 cents.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from breakangle.physics.string.laws import CENTS_PER_NEPER

Array = NDArray[np.float64]


def held_back_cents(
    *, friction_ratio: ArrayLike, break_angle_degrees: ArrayLike, head_mm: ArrayLike, length_mm: ArrayLike
) -> Array:
    """Whole width in cents of the band in which an open string may stand after tuning, before a bend evens it out.

    A string tuned up stands at the band's lower edge: a bend finds nothing to let go. One tuned down stands at the
    upper edge and falls by up to the whole width when it is bent.

    Source: T. Groves and J. A. Kemp (2019), Applicability of the capstan equation to guitar strings, Archives of
        Acoustics 44: pulls differ by exp(m a) at most, m below .26 wound and .17 plain over a saddle. Evened out, the
        whole string's stretch is shared by L + h: dT/T = ± m a h/(L + h), C/2 of that in cents either way. [derived]
    """
    m, a, h, L = (  # noqa: N806
        np.asarray(value, dtype=np.float64)
        for value in (friction_ratio, break_angle_degrees, head_mm, length_mm)
    )
    return np.asarray(CENTS_PER_NEPER * m * np.radians(a) * h / (L + h))
