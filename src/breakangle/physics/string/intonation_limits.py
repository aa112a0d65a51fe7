"""The same cents without any series, and in one line of algebra; and the setbacks that suit best.

The reference that ``intonation`` is held against, the linear form that explains it, the stretch a finger adds
behind a fret, and least-squares setbacks over a set of frets. Letters as in ``intonation``.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.string.intonation import CENTS_PER_NEPER, error_cents, error_slopes, open_is_zero
from breakangle.physics.string.laws import stiff_partial_ratio
from breakangle.physics.string.stopped_string import Array, stopped_lengths


def exact_error_cents(
    *,
    open_length_mm: ArrayLike,
    fret_ratio: ArrayLike,
    clearance_mm: ArrayLike,
    saddle_rise_mm: ArrayLike,
    axial_ratio: ArrayLike,
    stiffness_ratio: ArrayLike,
    saddle_setback_mm: ArrayLike = 0.0,
    nut_setback_mm: ArrayLike = 0.0,
    clamped_ends: Literal[0, 1, 2] = 1,
    stretch_share_ratio: ArrayLike = 1.0,
    finger_stretch_ratio: ArrayLike = 0.0,
) -> Array:
    """Cents as ``error_cents``, with the exact roots of the stiff string and no series: the reference.

    Slower than ``error_cents`` and only for 0, 1 or 2 clamped ends; other arguments as there.

    Source: Anderson and Beausoleil (2024), the error as a sum of four logarithms, with tan or tanh roots of the
        stiff string instead of their series [derived].
    """
    shape = stopped_lengths(
        open_length_mm, fret_ratio, clearance_mm, saddle_rise_mm, saddle_setback_mm, nut_setback_mm
    )
    k, b, g = (np.asarray(value, dtype=np.float64) for value in (axial_ratio, stiffness_ratio, fret_ratio))
    Q = np.asarray(stretch_share_ratio) * (shape.stretch_ratio + np.asarray(finger_stretch_ratio))  # noqa: N806
    tension = 1.0 + k * Q
    b_stopped = b * shape.open / shape.sounding / np.sqrt(tension)
    ratio = (
        shape.open / (g * shape.sounding) * np.sqrt((1.0 + Q) * tension)
        * stiff_partial_ratio(partial=1, stiffness_ratio=b_stopped, clamped_ends=clamped_ends)
        / stiff_partial_ratio(partial=1, stiffness_ratio=b, clamped_ends=clamped_ends)
    )  # fmt: skip
    return open_is_zero(CENTS_PER_NEPER * np.log(ratio), g)


def linear_error_cents(
    *,
    open_length_mm: ArrayLike,
    fret_ratio: ArrayLike,
    clearance_mm: ArrayLike,
    saddle_rise_mm: ArrayLike,
    axial_ratio: ArrayLike,
    stiffness_ratio: ArrayLike,
    saddle_setback_mm: ArrayLike = 0.0,
    nut_setback_mm: ArrayLike = 0.0,
    clamped_ends: ArrayLike = 1.0,
    stretch_share_ratio: ArrayLike = 1.0,
) -> Array:
    """Cents as ``error_cents``, first order in setbacks and stiffness, second in heights: for explaining.

    C [(g-1)(m b - dS/L) + dN/L + (k+1) s Q/2 - (g^2 a^2 + 2 g a c)/(2 L^2)], Q = g^2 a^2 / (2 (g-1) L^2).

    Source: Anderson and Beausoleil (2024), total frequency shift, with the clearance ``a`` over the crown and
        the saddle rise ``c``.
    """
    length, g, k, s = (
        np.asarray(value, dtype=np.float64)
        for value in (open_length_mm, fret_ratio, axial_ratio, stretch_share_ratio)
    )
    a, c, d_s, d_n = (
        np.asarray(value, dtype=np.float64) / length
        for value in (clearance_mm, saddle_rise_mm, saddle_setback_mm, nut_setback_mm)
    )
    rest = g - 1.0
    stiffness = np.asarray(clamped_ends, dtype=np.float64) * np.asarray(stiffness_ratio, dtype=np.float64)
    Q = (a * g) ** 2 / (2.0 * np.where(rest == 0.0, np.inf, rest))  # noqa: N806
    lengthening = ((a * g) ** 2 + 2.0 * g * a * c) / 2.0
    logarithm = rest * (stiffness - d_s) + d_n + 0.5 * (k + 1.0) * s * Q - lengthening
    return open_is_zero(CENTS_PER_NEPER * logarithm, g)


def finger_stretch_ratio(
    *,
    open_length_mm: ArrayLike,
    fret_ratio: ArrayLike,
    clearance_mm: ArrayLike,
    saddle_rise_mm: ArrayLike,
    behind_mm: ArrayLike,
    saddle_setback_mm: ArrayLike = 0.0,
    nut_setback_mm: ArrayLike = 0.0,
) -> Array:
    """Relative stretch, a pure number, that a finger ``behind_mm`` behind the fret adds.

    The sounding line runs straight on past the crown for that distance and only then rises to the nut. It
    matters at the first frets only. The finger must fit between nut and fret: 0 <= behind_mm < nut to crown.

    Source: Anderson and Beausoleil (2024), length L'_n and appendix "Fretting Classical Guitar Strings".
    """
    shape = stopped_lengths(
        open_length_mm, fret_ratio, clearance_mm, saddle_rise_mm, saddle_setback_mm, nut_setback_mm
    )
    d = np.asarray(behind_mm, dtype=np.float64)
    fall = shape.rise_from_crown / shape.along_sounding * d
    bent = np.hypot(d, fall) + np.hypot(shape.along_behind - d, shape.drop_from_nut + fall)
    return open_is_zero((bent - shape.behind) / shape.open, np.asarray(fret_ratio, dtype=np.float64))


@dataclass(frozen=True)
class Setbacks:
    """Setbacks in mm that make the squared cents over the frets smallest, and the root mean square left."""

    saddle_setback_mm: Array
    nut_setback_mm: Array
    rms_cents: Array


def best_setbacks(
    *,
    open_length_mm: ArrayLike,
    fret_ratio: ArrayLike,
    clearance_mm: ArrayLike,
    saddle_rise_mm: ArrayLike,
    axial_ratio: ArrayLike,
    stiffness_ratio: ArrayLike,
    clamped_ends: ArrayLike = 1.0,
) -> Setbacks:
    """Saddle and nut setbacks in mm of least squared error; the frets are the last axis of every argument.

    The open string's clearances stay as given. Eight Gauss steps: the error is all
    but linear in both while the nut setback stays within some 2 mm, which is every playable instrument.

    Source: least squares by Gauss and Newton on `error_cents` and its slopes [derived].
    """
    d_s: Array = np.zeros(1)
    d_n: Array = np.zeros(1)
    for _ in range(8):
        arguments = {
            "open_length_mm": open_length_mm, "fret_ratio": fret_ratio, "clearance_mm": clearance_mm,
            "saddle_rise_mm": saddle_rise_mm, "axial_ratio": axial_ratio, "stiffness_ratio": stiffness_ratio,
            "saddle_setback_mm": d_s, "nut_setback_mm": d_n, "clamped_ends": clamped_ends,
        }  # fmt: skip
        cents, slopes = error_cents(**arguments), error_slopes(**arguments)
        by_s, by_n = slopes.saddle_setback_cents_per_mm, slopes.nut_setback_cents_per_mm
        ss, sn, nn = (np.sum(u * v, axis=-1) for u, v in ((by_s, by_s), (by_s, by_n), (by_n, by_n)))
        es, en = np.sum(cents * by_s, axis=-1), np.sum(cents * by_n, axis=-1)
        whole = ss * nn - sn**2
        d_s = d_s - ((es * nn - en * sn) / whole)[..., None]
        d_n = d_n - ((en * ss - es * sn) / whole)[..., None]
    arguments |= {"saddle_setback_mm": d_s, "nut_setback_mm": d_n}
    left = np.sqrt(np.mean(error_cents(**arguments) ** 2, axis=-1))
    return Setbacks(d_s[..., 0], d_n[..., 0], left)
