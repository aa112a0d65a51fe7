"""What every function of the physics takes: numbers or arrays of any shape, as arrays of floats."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def floats(values: ArrayLike) -> Array:
    """Return numbers, or an array of them, as an array of floats of the same shape.

    Source: no physics.
    """
    return np.asarray(values, dtype=np.float64)
