"""When a figure is known well enough to be called inside or outside its tolerance: one rule for all who ask."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

# Where nothing else is said below: common practice, no source.
JUDGED_SHARE = 0.9  # of the tolerance: a target known no better than this has not been read
SURELY_OUT_SPREADS = 3.0  # outside by more than this it is out, however little else is known


def known_enough(off: ArrayLike, tolerance: ArrayLike, spread: ArrayLike) -> NDArray[np.bool_]:
    """Return whether figures that are `off` what is wanted, and known to `spread`, can be judged.

    A figure known no better than its tolerance has not been read; one that is outside by far is out all the same.
    """
    apart = np.abs(np.asarray(off)) - SURELY_OUT_SPREADS * np.asarray(spread)
    return np.asarray((np.asarray(spread) <= JUDGED_SHARE * np.asarray(tolerance)) | (apart > tolerance))
