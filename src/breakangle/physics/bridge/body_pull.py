"""How far a moving bridge pulls a string's partials from where a rigid bridge would leave them, in cents.

A body that sings near a partial is a load on the string's end: below its resonance a spring, which lengthens the
string, above it a mass, which shortens it. So a partial a little above a resonance is sharp, one a little below flat.

Letters: ``Z`` wave impedance √(Tμ) of the string (kg/s), ``Y`` admittance of the body at the bridge (s/kg), ``n`` the
partial, ``f_0`` the string's own fundamental, ``w`` angular frequency.

Source: J. Woodhouse (2004), On the synthesis of guitar plucks, Acta Acustica united with Acustica 90, 928: first order
df/f = -Z Im Y/(n π); the condition at the bridge -j Z cot(π f/f_0) + 1/Y = 0 holds at any distance.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from breakangle.physics.string.laws import CENTS_PER_NEPER

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

# The string's root is followed from a body that does not give way to the real one, so that it is not lost to the
# body's own root where the two meet. So many steps of the coupling, so many of Newton's in each, are within .01 cents
# of 200 and 6 on 48,000 notes and bodies drawn at random. [derived]
COUPLING_STEPS, NEWTON_STEPS = 8, 3


def wave_impedance_kg_per_s(*, tension_n: ArrayLike, unit_mass_g_per_m: ArrayLike) -> Array:
    """Wave impedance of a string in kg/s: √(T μ).

    Source: the limp string, any text on acoustics: Z = T/c with c = √(T/μ).
    """
    return np.asarray(np.sqrt(np.asarray(tension_n) * np.asarray(unit_mass_g_per_m) * 1e-3))


def admittance_s_per_kg(
    *, hz: ArrayLike, resonance_hz: ArrayLike, mass_kg: ArrayLike, quality_ratio: ArrayLike
) -> Complex:
    """Admittance of a body at its bridge in s/kg: each resonance a mass on a damped spring, all added up.

    `hz` of any shape (complex frequencies too, growing imaginary part: dying away); the resonances are lists of one
    length.

    Source: a damped mass on a spring driven by a force, any text on vibration; the sum over modes as in
        Woodhouse (2004).
    """
    f = np.asarray(hz, dtype=np.complex128)[..., None]
    w, w_0 = 2.0 * np.pi * f, 2.0 * np.pi * np.asarray(resonance_hz, dtype=np.float64)
    mass, quality = np.asarray(mass_kg, dtype=np.float64), np.asarray(quality_ratio, dtype=np.float64)
    found: Complex = np.sum(1j * w / (mass * (w_0**2 - w**2 + 1j * w * w_0 / quality)), axis=-1)
    return found


def first_order_pull_cents(
    *, impedance_kg_per_s: ArrayLike, admittance_s_per_kg: ArrayLike, partial: ArrayLike = 1
) -> Array:
    """Cents by which the body pulls a partial, to first order: good farther than f/Q from every resonance.

    Source: Woodhouse (2004), df/f = -Z Im Y/(n π), Y at the partial's own frequency.
    """
    Z, Y = np.asarray(impedance_kg_per_s), np.asarray(admittance_s_per_kg)  # noqa: N806
    return np.asarray(CENTS_PER_NEPER * np.log1p(-Z * Y.imag / (np.pi * np.asarray(partial))))


def pull_cents(
    *,
    fundamental_hz: ArrayLike,
    impedance_kg_per_s: ArrayLike,
    resonance_hz: ArrayLike,
    mass_kg: ArrayLike,
    quality_ratio: ArrayLike,
    partial: ArrayLike = 1,
) -> Array:
    """Cents by which the body pulls a partial of a string, near its resonances too; zero where there are none.

    `fundamental_hz` (of the sounding length between rigid ends), `impedance_kg_per_s` and `partial` broadcast.

    Source: Woodhouse (2004), -j Z cot(π f/f_0) + 1/Y = 0. Solved as tan(π f/f_0) = j λ Z Y for λ from 0, where f is
    n f_0, to 1: the root that is the string's. [derived]
    """
    f_0, Z, n = np.broadcast_arrays(  # noqa: N806
        *(np.asarray(one, dtype=np.float64) for one in (fundamental_hz, impedance_kg_per_s, partial))
    )
    resonance, mass = np.asarray(resonance_hz, dtype=np.float64), np.asarray(mass_kg, dtype=np.float64)
    if resonance.size == 0:
        return np.zeros(f_0.shape)
    body = {"resonance_hz": resonance, "mass_kg": mass, "quality_ratio": quality_ratio}
    f: Complex = (n * f_0).astype(np.complex128)
    # Angles from the partial's own, so that the tangent is small at the start.
    for coupling in np.linspace(0.0, 1.0, COUPLING_STEPS + 1)[1:]:
        for _ in range(NEWTON_STEPS):
            ahead = f * (1.0 + 1e-7)
            here = _miss(f, f_0, coupling * Z, body)
            slope = (_miss(ahead, f_0, coupling * Z, body) - here) / (ahead - f)
            f = f - here / slope
    return np.asarray(CENTS_PER_NEPER * np.log(f.real / (n * f_0)))


def _miss(f: Complex, f_0: Array, impedance: Array, body: dict[str, ArrayLike]) -> Complex:
    """Return sin(π f/f_0) - j Z Y cos(π f/f_0): zero at a partial of the string on its body."""
    angle = np.pi * f / f_0
    found: Complex = np.sin(angle) - 1j * impedance * admittance_s_per_kg(hz=f, **body) * np.cos(angle)
    return found
