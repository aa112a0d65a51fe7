"""A string's mass, stretch and bending stiffness, by formulas of this bench's own from the tables' materials.

A winding of round wire of diameter w over a core of diameter c is a helix: each turn is π (c + w) long and advances by
w, so a unit of length carries π² w (c + w) / 4 of wire. Steel under tension bends as a round rod, E π d⁴ / 64.
"""

from dataclasses import dataclass

import numpy as np

from breakangle.model.instrument import String
from breakangle.reference.strings import make as make_of
from breakangle.reference.strings import usual_core_mm
from breakangle.reference.strings import wrap as wrap_of

# How a set's own constants differ from what its printed sizes give, one standard deviation of the logarithm.
STEEL_SPREAD_RATIO, OTHER_SPREAD_RATIO = 0.06, 0.15


@dataclass(frozen=True)
class Strung:
    """One string at pitch: pull in N, stretch EA in N, bending EI in N mm²."""

    pull_n: float
    stretch_n: float
    bending_n_mm2: float


def strung(one: String, length_mm: float, hz: float, rng: np.random.Generator) -> Strung:
    """Return the string at pitch `hz` over `length_mm`, a little other than its printed sizes."""
    make = make_of(one.make)
    core = one.diameter_mm
    wire_area = np.pi * core**2 / 4.0
    mass = make.density_kg_per_m3 * wire_area * 1e-3  # g/m from kg/m³ and mm²
    if make.wound:
        core = one.core_mm or usual_core_mm(make.key, one.diameter_mm)
        winding = (one.diameter_mm - core) / 2.0
        wire_area = np.pi * core**2 / 4.0
        wound_area = np.pi**2 * winding * (core + winding) / 4.0
        metal = wrap_of(one.wrap or make.usual_wrap or "").density_kg_per_m3
        mass = 1e-3 * (make.density_kg_per_m3 * wire_area + metal * wound_area)
    pull = 4.0 * (mass * 1e-3) * (length_mm * 1e-3) ** 2 * hz**2
    spread = STEEL_SPREAD_RATIO if make.axial_ratio is None else OTHER_SPREAD_RATIO
    own = float(np.exp(rng.normal(0.0, spread)))
    stretch = own * (
        (make.modulus_mpa or 0.0) * wire_area if make.axial_ratio is None else make.axial_ratio * pull
    )
    bends_mm = core if make.bending == "core" else one.diameter_mm
    bending = stretch * bends_mm**2 / 16.0 * float(np.exp(rng.normal(0.0, 0.1)))
    return Strung(pull, stretch, bending)
