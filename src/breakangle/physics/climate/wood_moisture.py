"""What the air does to wood: the moisture it settles at, and how far that moves it across the grain."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def equilibrium_moisture_percent(*, temperature_c: ArrayLike, humidity_percent: ArrayLike) -> Array:
    """Moisture content in percent of dry mass at which wood settles in this air.

    For 0 to 100 percent relative humidity and ordinary room temperatures. A neck under lacquer needs weeks to
    get there; this is where it is heading, not where it is.

    Source: W. T. Simpson (1998), Equilibrium moisture content of wood in outdoor locations in the United States and
        worldwide, Research Note FPL-RN-0268, the two-hydrate sorption equation; also Forest Products Laboratory
        (2010), Wood Handbook: Wood as an Engineering Material, FPL-GTR-190, equation 4-5. The data under it are
        practical ones: S. V. Glass, S. L. Zelinka and J. A. Johnson (2014), Investigation of Historic Equilibrium
        Moisture Content Data from the Forest Products Laboratory, FPL-GTR-229, finds them unreliable for scientific
        purposes (methods not documented, measured and interpolated values not told apart).
    """
    t = np.asarray(temperature_c, dtype=np.float64)
    h = np.asarray(humidity_percent, dtype=np.float64) / 100.0
    W = 349.0 + 1.29 * t + 0.0135 * t**2  # noqa: N806
    K = 0.805 + 0.000736 * t - 0.00000273 * t**2  # noqa: N806
    K_1 = 6.27 - 0.00938 * t - 0.000303 * t**2  # noqa: N806
    K_2 = 1.91 + 0.0407 * t - 0.000293 * t**2  # noqa: N806
    dissolved = K * h / (1.0 - K * h)
    first, second = K_1 * K * h, K_1 * K_2 * K**2 * h**2
    moisture: Array = 1800.0 / W * (dissolved + (first + 2.0 * second) / (1.0 + first + second))
    return moisture


def movement_mm(
    *, width_mm: ArrayLike, movement_per_percent: ArrayLike, moisture_change_percent: ArrayLike
) -> Array:
    """Change in mm of a width across the grain, positive for swelling, for a change of moisture content.

    Good between 6 and 14 percent of moisture; coefficients per percent come from ``reference.woods``.

    Source: Forest Products Laboratory (2010), Wood Handbook: Wood as an Engineering Material, FPL-GTR-190,
        equation 13-2 and table 13-5.
    """
    factors = (width_mm, movement_per_percent, moisture_change_percent)
    width, per_percent, change = (np.asarray(value, dtype=np.float64) for value in factors)
    moved: Array = width * per_percent * change
    return moved
