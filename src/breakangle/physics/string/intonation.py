"""How many cents each string is off at each fret, and how that answers to every adjuster.

Pressed to a fret the string gets longer, tighter and thinner, and what sounds is the piece from crown to
saddle, which is relatively stiffer than the open string: four logarithms that add.

Letters: ``Q`` relative stretch, ``k`` axial ratio (EA/T), ``b`` stiffness ratio (sqrt(EI/T)/L), ``g`` fret
ratio, ``s`` stretch share, ``m`` clamped ends; lengths as in ``stopped_string``.

Source: M. B. Anderson and R. G. Beausoleil (2024), Classical guitar intonation and compensation: The
well-tempered guitar, J. Acoust. Soc. Am. 156, 683.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.string.stopped_string import Array, StoppedLengths, stopped_lengths

# Exact.
CENTS_PER_NEPER = 1200.0 / math.log(2.0)


@dataclass(frozen=True)
class ErrorSlopes:
    """How the error in cents answers to each thing that sets it, and the error; every field has the broadcast shape."""

    cents: Array
    clearance_cents_per_mm: Array
    saddle_setback_cents_per_mm: Array
    nut_setback_cents_per_mm: Array
    saddle_rise_cents_per_mm: Array
    log_axial_cents: Array
    log_stiffness_cents: Array
    finger_stretch_cents: Array


def _stiffness_factor(b: Array, m: Array) -> Array:
    """Frequency of partial 1 over that of a limp string, to second order in the stiffness ratio."""
    return 1.0 + m * b + (m**2 + np.pi**2 / 2.0) * b**2


def error_cents(
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
    finger_stretch_ratio: ArrayLike = 0.0,
) -> Array:
    """Cents by which each string is sharp (positive) at each fret, its open note being in tune.

    All arguments broadcast, usually (strings, 1) against (strings, frets).

    Args:
        open_length_mm: scale of this string without setbacks, nut to saddle along the board.
        fret_ratio: pitch ratio the fret should give, 2**(fret/12); also places the fret at length/ratio from
            the saddle. 1 (the open string) gives 0 cents.
        clearance_mm: open string over the crown of that fret, zero or more.
        saddle_rise_mm: height of the saddle above that of the nut, both from the line the crowns lie on.
        axial_ratio: EA/T, tangent stiffness of the open string over its tension.
        stiffness_ratio: sqrt(EI/T)/L of the open string.
        saddle_setback_mm: saddle away from the nut, positive flattens.
        nut_setback_mm: nut away from the saddle, positive sharpens every fret alike.
        clamped_ends: how many ends of the sounding length are clamped rather than pinned, 0 to 2.
        stretch_share_ratio: share of the stretch that the sounding string takes: 1 when it sticks at nut and
            saddle, L / (whole length between tuner and anchor) when it slides freely.
        finger_stretch_ratio: further relative stretch from the finger behind the fret, see
            ``finger_stretch_ratio``.

    Source: Anderson and Beausoleil (2024), section "Simple Model of Guitar Intonation": the error as the sum
        of length, unit mass, tension and stiffness logarithms, exact lengths, stiffness to second order.
    """
    shape = stopped_lengths(
        open_length_mm, fret_ratio, clearance_mm, saddle_rise_mm, saddle_setback_mm, nut_setback_mm
    )
    k, b, m, s, g = (
        np.asarray(value, dtype=np.float64)
        for value in (axial_ratio, stiffness_ratio, clamped_ends, stretch_share_ratio, fret_ratio)
    )
    Q = s * (shape.stretch_ratio + np.asarray(finger_stretch_ratio))  # noqa: N806
    tension = 1.0 + k * Q
    return _cents(shape, Q, tension, b, m, g)


def _cents(shape: StoppedLengths, stretch: Array, tension: Array, b: Array, m: Array, g: Array) -> Array:
    """Return the error in cents: logarithms of length, unit mass, tension over the open string's, and stiffness."""
    b_stopped = b * shape.open / shape.sounding / np.sqrt(tension)
    logarithm = (
        np.log(shape.open / (g * shape.sounding))
        + 0.5 * np.log1p(stretch)
        + 0.5 * np.log(tension)
        + np.log(_stiffness_factor(b_stopped, m) / _stiffness_factor(b, m))
    )
    return open_is_zero(CENTS_PER_NEPER * logarithm, g)


def open_is_zero(cents: Array, fret_ratio: Array) -> Array:
    """The open string is its own reference, whatever the nut setback.

    Source: Anderson and Beausoleil (2024): errors are counted from the open string.
    """
    return np.where(fret_ratio == 1.0, 0.0, cents)


def error_slopes(
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
    finger_stretch_ratio: ArrayLike = 0.0,
) -> ErrorSlopes:
    """Partial derivatives of ``error_cents``, in cents per mm, per unit of a logarithm, per unit of stretch.

    Same arguments and broadcasting as ``error_cents``; each derivative holds every other argument fixed.

    Source: the derivatives of `error_cents`, term by term [derived].
    """
    shape = stopped_lengths(
        open_length_mm, fret_ratio, clearance_mm, saddle_rise_mm, saddle_setback_mm, nut_setback_mm
    )
    k, b, m, s, g = (
        np.asarray(value, dtype=np.float64)
        for value in (axial_ratio, stiffness_ratio, clamped_ends, stretch_share_ratio, fret_ratio)
    )
    Q = s * (shape.stretch_ratio + np.asarray(finger_stretch_ratio))  # noqa: N806
    tension = 1.0 + k * Q
    w_stopped = _stiffness_weight(b * shape.open / shape.sounding / np.sqrt(tension), m)
    per_stretch = 0.5 * s * (1.0 / (1.0 + Q) + (1.0 - w_stopped) * k / tension)

    whole, front, back = _length_slopes(shape, per_stretch.ndim)
    by_length = (1.0 + w_stopped) * (whole / shape.open - front / shape.sounding) + per_stretch * (
        front + back - (1.0 + shape.stretch_ratio) * whole
    ) / shape.open
    by_axial = 0.5 * (1.0 - w_stopped) * k * Q / tension
    by_stiffness = w_stopped - _stiffness_weight(b, m)
    cents = _cents(shape, Q, tension, b, m, g)
    # In the order of the fields of ErrorSlopes.
    slopes = (*by_length, by_axial, by_stiffness, per_stretch)
    in_cents = np.empty((len(slopes), *per_stretch.shape))
    for place, one in enumerate(slopes):
        in_cents[place] = one
    return ErrorSlopes(cents, *open_is_zero(CENTS_PER_NEPER * in_cents, g))


def _stiffness_weight(b: Array, m: Array) -> Array:
    """Logarithmic derivative of the stiffness factor by the stiffness ratio."""
    return (m * b + 2.0 * (m**2 + np.pi**2 / 2.0) * b**2) / _stiffness_factor(b, m)


def _length_slopes(shape: StoppedLengths, axes: int) -> tuple[Array, Array, Array]:
    """Slopes of open, sounding and behind by clearance, saddle setback, nut setback, saddle rise: the first of axes.

    `axes` is how many the result broadcasts against.
    """
    H, h, x = shape.along_open, shape.along_sounding, shape.along_behind  # noqa: N806
    r, p, whole, front, back = (
        shape.rise_from_crown, shape.drop_from_nut, shape.open, shape.sounding, shape.behind,
    )  # fmt: skip
    t = (r - p) / H  # slope of the open string over the board
    back = np.where(back == 0.0, 1.0, back)  # only the open string itself has none
    found = np.empty((3, 4, *(1,) * (axes - H.ndim), *H.shape))
    found[0, 0], found[0, 1], found[0, 3] = 0.0, H / whole, t * H / whole
    found[1, 0], found[1, 1] = r / front, (h + r * t * x / H) / front
    found[1, 2], found[1, 3] = -r * t * h / H / front, r * h / H / front
    found[2, 0], found[2, 1] = p / back, p * t * x / H / back
    found[2, 2], found[2, 3] = (x - p * t * h / H) / back, -p * x / H / back
    found[0, 2] = found[0, 1]
    return found[0], found[1], found[2]
