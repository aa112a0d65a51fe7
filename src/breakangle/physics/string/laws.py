"""One string at tension: mass, pull, stiffness, strength, and what bends and warms its pitch.

Arrays of any shape broadcast. Materials come as arguments; the figures for them live in ``reference``.
"""

import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats

# Exact.
CENTS_PER_NEPER = 1200.0 / math.log(2.0)


def tension_n(*, unit_mass_g_per_m: ArrayLike, length_mm: ArrayLike, pitch_hz: ArrayLike) -> Array:
    """Tension in N that gives the pitch: T = mu (2 L f)^2 of the limp string.

    Source: M. Mersenne (1636), Harmonie universelle; any text on acoustics.
    """
    return 1e-9 * floats(unit_mass_g_per_m) * (2.0 * floats(length_mm) * floats(pitch_hz)) ** 2


def pitch_hz(*, tension_n: ArrayLike, unit_mass_g_per_m: ArrayLike, length_mm: ArrayLike) -> Array:
    """Pitch in Hz of the limp string at this tension; the inverse of ``tension_n``.

    Source: M. Mersenne (1636), Harmonie universelle, solved for the pitch.
    """
    return np.sqrt(1e9 * floats(tension_n) / floats(unit_mass_g_per_m)) / (2.0 * floats(length_mm))


def round_unit_mass_g_per_m(*, diameter_mm: ArrayLike, density_kg_per_m3: ArrayLike) -> Array:
    """Unit mass in g/m of a plain round string: mu = rho pi d^2 / 4.

    For nylon and fluorocarbon pass the *effective* density of the nominal diameter: it thins at pitch.

    Source: density times the area of a circle [derived].
    """
    return 1e-3 * floats(density_kg_per_m3) * np.pi * floats(diameter_mm) ** 2 / 4.0


def wound_unit_mass_g_per_m(
    *,
    diameter_mm: ArrayLike,
    core_mm: ArrayLike,
    core_density_kg_per_m3: ArrayLike,
    wrap_density_kg_per_m3: ArrayLike,
    wrap_fill_ratio: ArrayLike = np.pi / 4.0,
) -> Array:
    """Unit mass in g/m of a wound string, from outside and core diameters in mm.

    ``wrap_fill_ratio`` is how much of the ring between core and outside the wrap fills: pi/4 for a close
    helix of round wire (a disc in its square), nearer 1 for flat tape. Good to about 8 % from gauges alone.

    Source: density times area of core and filled ring [derived]; the 8 %:
        tests/properties/physics/test_steel_string_figures.py.
    """
    ring = floats(diameter_mm) ** 2 - floats(core_mm) ** 2
    filled = floats(wrap_density_kg_per_m3) * floats(wrap_fill_ratio) * ring
    return 1e-3 * np.pi / 4.0 * (floats(core_density_kg_per_m3) * floats(core_mm) ** 2 + filled)


def round_axial_stiffness_n(*, diameter_mm: ArrayLike, modulus_mpa: ArrayLike) -> Array:
    """Axial stiffness EA in N of a round wire; of the core alone for a steel-cored wound string.

    Source: Hooke's law: modulus times area.
    """
    return floats(modulus_mpa) * np.pi * floats(diameter_mm) ** 2 / 4.0


def round_bending_stiffness_n_mm2(*, diameter_mm: ArrayLike, modulus_mpa: ArrayLike) -> Array:
    """Bending stiffness EI in N mm2 of a round wire; of the core alone for a steel-cored wound string.

    Source: modulus times π d⁴/64, the second moment of a circle; any text on strength of materials.
    """
    return floats(modulus_mpa) * np.pi * floats(diameter_mm) ** 4 / 64.0


def bending_from_axial_n_mm2(*, axial_stiffness_n: ArrayLike, diameter_mm: ArrayLike) -> Array:
    """Bending stiffness EI in N mm2 of a round section whose axial stiffness is known: EA d^2 / 16.

    Source: Anderson and Beausoleil (2024), J. Acoust. Soc. Am. 156, 683: B0 from EA/T and the radius.
    """
    return floats(axial_stiffness_n) * floats(diameter_mm) ** 2 / 16.0


def axial_ratio(*, axial_stiffness_n: ArrayLike, tension_n: ArrayLike) -> Array:
    """EA/T, a pure number: relative rise of tension per relative stretch.

    Source: Hooke's law: d ln T = (EA/T) e.
    """
    return floats(axial_stiffness_n) / floats(tension_n)


def stiffness_ratio(
    *, bending_stiffness_n_mm2: ArrayLike, tension_n: ArrayLike, length_mm: ArrayLike
) -> Array:
    """sqrt(EI/T)/L, a pure number: the length over which the string resists bending, over its own length.

    Source: H. Fletcher (1964), whose ε is its square times π² [derived].
    """
    return np.sqrt(floats(bending_stiffness_n_mm2) / floats(tension_n)) / floats(length_mm)


def inharmonicity_ratio(
    *, bending_stiffness_n_mm2: ArrayLike, tension_n: ArrayLike, length_mm: ArrayLike
) -> Array:
    """Inharmonicity B, a pure number, of f_n = n f_0 sqrt(1 + B n^2): pi^2 EI / (T L^2).

    Source: H. Fletcher (1964), Normal vibration frequencies of a stiff piano string, J. Acoust. Soc. Am. 36,
        203.
    """
    beta = stiffness_ratio(
        bending_stiffness_n_mm2=bending_stiffness_n_mm2, tension_n=tension_n, length_mm=length_mm
    )
    return np.pi**2 * beta**2


def wire_breaking_stress_mpa(
    *, diameter_mm: ArrayLike, strength_mpa: ArrayLike, thinning_exponent: ArrayLike
) -> Array:
    """Tensile strength in MPa of drawn music wire: S = A / d^m, with A in MPa at 1 mm.

    Source: the A/d^m form of wire tables; any text on springs. The figures: reference/data/materials.
    """
    return floats(strength_mpa) / floats(diameter_mm) ** floats(thinning_exponent)


def bend_cents(
    *,
    axial_stiffness_n: ArrayLike,
    tension_n: ArrayLike,
    length_mm: ArrayLike,
    sideways_mm: ArrayLike,
) -> Array:
    """Cents by which a string rises when its middle is pushed sideways, the ends held.

    f = sqrt((EA + cos(theta) (T - EA)) / mu) / (2 L), theta the angle of each half to the straight string.

    Source: Hooke's law on the two straight halves and the limp string [derived].
    """
    half, aside = floats(length_mm) / 2.0, floats(sideways_mm)
    slant = np.hypot(half, aside)
    one_less_cosine = aside**2 / (slant * (slant + half))
    gain: Array = one_less_cosine * (floats(axial_stiffness_n) / floats(tension_n) - 1.0)
    return CENTS_PER_NEPER / 2.0 * np.log1p(gain)


def stretch_slope_ratio(*, length_mm: ArrayLike, pitch_hz: ArrayLike, hz_per_mm: ArrayLike) -> Array:
    """R, a pure number: relative rise of pitch per relative stretch; axial ratio = 2 R + 1.

    Source: M. B. Anderson and R. G. Beausoleil (2024), J. Acoust. Soc. Am. 156, 683, definition of R.
    """
    return floats(length_mm) / floats(pitch_hz) * floats(hz_per_mm)


def axial_ratio_from_stretch(*, slope_ratio: ArrayLike) -> Array:
    """EA/T, a pure number, from the measured R of ``stretch_slope_ratio``: 2 R + 1.

    Source: Anderson and Beausoleil (2024): EA/T = 2 R + 1.
    """
    return 2.0 * floats(slope_ratio) + 1.0


def stiff_partial_ratio(
    *, partial: ArrayLike, stiffness_ratio: ArrayLike, clamped_ends: Literal[0, 1, 2]
) -> Array:
    """Frequency of a partial of the stiff string over that of the limp string's fundamental, exact.

    Args:
        partial: 1 for the fundamental, 2 for the octave ...
        stiffness_ratio: beta = sqrt(EI/T)/L, zero or more.
        clamped_ends: 0 pinned at both ends, 1 pinned and clamped, 2 clamped at both.

    With p the wave number times length, q^2 = p^2 + 1/beta^2 and p = n pi + delta, the end conditions leave
    delta = 0; tan(delta) = p/q tanh(q); or tan(delta/2) = p/q tanh(q/2) (even partials), its tanh below the
    line (odd partials). Solved by bisection: the bracket cannot fail, and 60 halvings reach the last digit.

    Source: H. Fletcher (1964), J. Acoust. Soc. Am. 36, 203; mixed ends: Anderson and Beausoleil (2024),
        appendix "Vibration Frequencies of a Stiff String".
    """
    n, beta = np.broadcast_arrays(floats(partial), floats(stiffness_ratio))
    low, high = np.zeros(n.shape), np.full(n.shape, np.pi if clamped_ends else 0.0)
    for _ in range(60 if clamped_ends else 0):
        middle = (low + high) / 2.0
        above = middle > _end_shift(n * np.pi + middle, beta, n, clamped_ends)
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    p = n * np.pi + (low + high) / 2.0
    ratio: Array = p / np.pi * np.sqrt(1.0 + (beta * p) ** 2)
    return ratio


def _end_shift(p: Array, beta: Array, n: Array, clamped_ends: int) -> Array:
    """Angle in radians by which clamped ends push the wave number past n pi, when it is p."""
    root = np.sqrt(1.0 + (beta * p) ** 2)
    with np.errstate(divide="ignore"):
        q = root / beta
    if clamped_ends == 1:
        return np.arctan(beta * p / root * np.tanh(q))
    damping = np.tanh(q / 2.0)
    return 2.0 * np.arctan(beta * p / root * np.where(n % 2 == 0, damping, 1.0 / damping))


def stiff_partial_series(*, partial: ArrayLike, stiffness_ratio: ArrayLike, clamped_ends: ArrayLike) -> Array:
    """``stiff_partial_ratio`` to second order in the ratio b: n (1 + m b + (m^2 + n^2 pi^2/2) b^2).

    Source: H. Fletcher (1964), the frequencies between pinned and clamped ends, expanded in b [derived].
    """
    n, b, m = floats(partial), floats(stiffness_ratio), floats(clamped_ends)
    return n * (1.0 + m * b + (m**2 + (n * np.pi) ** 2 / 2.0) * b**2)
