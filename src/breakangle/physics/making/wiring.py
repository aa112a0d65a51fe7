"""Passive wiring: what a meter at the jack shows of coils and pots, and where their sound ends. SI units but kΩ."""

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.arrays import Array, floats


def together_kohm(each_kohm: ArrayLike) -> Array:
    """Return the resistance of what lies side by side, kΩ, over the last axis; infinite ones do not count.

    Source: conductances add (Kirchhoff's current law, any text on circuits).
    """
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / np.sum(1.0 / floats(each_kohm), axis=-1))


def at_jack_kohm(coils_kohm: ArrayLike, volume_kohm: ArrayLike) -> Array:
    """Return what a meter at the jack shows with the volume full up, kΩ; a capacitor before the tone lets none through.

    `coils_kohm` (..., N): pickups switched on side by side; `volume_kohm` (..., M): the volume pots across them.

    Source: coils and pots lie side by side, as `together_kohm`.
    """
    coils, pots = together_kohm(coils_kohm), together_kohm(volume_kohm)
    return together_kohm(np.stack([coils, pots], axis=-1))


def resonance_hz(inductance_h: ArrayLike, capacitance_f: ArrayLike) -> Array:
    """Return the frequency at which coil and cable ring, Hz.

    Source: 1/(2π√(LC)), W. Thomson (1853), Phil. Mag. 5, 393; any text on circuits.
    """
    return np.asarray(1.0 / (2.0 * np.pi * np.sqrt(floats(inductance_h) * floats(capacitance_f))))
