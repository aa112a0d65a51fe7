"""How a board glued to a neck bends both when one grows more along its length than the other: a bimetal of wood."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def layered_curvature_per_mm(
    *,
    board_mm: ArrayLike,
    neck_mm: ArrayLike,
    board_over_neck_modulus_ratio: ArrayLike,
    board_growth_ratio: ArrayLike,
    neck_growth_ratio: ArrayLike,
) -> Array:
    """Curvature in 1/mm of two glued layers of equal width, positive where the board's side is the outer one.

    Thicknesses in mm; growths are relative lengthenings along the grain.

    Source: S. Timoshenko (1925), Analysis of bi-metal thermostats, J. Opt. Soc. Am. 11, 233, equation 4: with m the
        ratio of thicknesses, n that of moduli, h the whole thickness:
        6 (a1 - a2)(1 + m)²/(h (3 (1 + m)² + (1 + m n)(m² + 1/(m n)))).
    """
    one, other, n = (
        np.asarray(value, dtype=np.float64) for value in (board_mm, neck_mm, board_over_neck_modulus_ratio)
    )
    m, h = one / other, one + other
    apart = np.asarray(board_growth_ratio) - np.asarray(neck_growth_ratio)
    stiff = 3.0 * (1.0 + m) ** 2 + (1.0 + m * n) * (m**2 + 1.0 / (m * n))
    return np.asarray(6.0 * apart * (1.0 + m) ** 2 / (h * stiff))


def relief_change_mm(*, curvature_per_mm: ArrayLike, span_mm: ArrayLike) -> Array:
    """Change of relief in mm over a span: a neck that bows backward, curvature positive, loses relief.

    Source: sag of a shallow arc, curvature times span²/8. [derived]
    """
    return np.asarray(-np.asarray(curvature_per_mm) * np.asarray(span_mm) ** 2 / 8.0)
