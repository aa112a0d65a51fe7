"""A string's constants from its make and diameters, and how well each is known: tables meet physics here."""

import math
from dataclasses import dataclass

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.physics.string import laws as strings
from breakangle.reference.strings import StringMake, usual_core_mm, wire
from breakangle.reference.strings import make as string_make
from breakangle.reference.strings import wrap as string_wrap

MEASURED_SD_RATIO = 0.01
"""Spread of a constant that somebody measured: a hundredth, common practice, no source."""


@dataclass(frozen=True)
class StringConstants:
    """Mass, stiffness and strength of one string at pitch; ``sd_ratio`` is the sigma of the logarithm."""

    unit_mass_g_per_m: float
    axial_stiffness_n: float
    bending_stiffness_n_mm2: float
    tension_n: float
    unit_mass_sd_ratio: float
    axial_sd_ratio: float
    bending_sd_ratio: float
    breaking_low_n: float
    breaking_high_n: float
    guessed_core_mm: float | None = None


def string_constants(
    *,
    make: str,
    diameter_mm: float,
    open_length_mm: float,
    pitch_hz: float,
    core_mm: float | None = None,
    wrap: str | None = None,
    unit_mass_g_per_m: float | None = None,
    axial_stiffness_n: float | None = None,
    bending_stiffness_n_mm2: float | None = None,
) -> StringConstants:
    """Constants of a string in g/m, N, N mm2; measured values override what the diameters give.

    Length and pitch are needed because the stiffness of nylon and its kin follows their tension.

    Raises:
        CorrectInputError: unknown make or wrap, or a core that does not fit inside the string.
    """
    of = string_make(make)
    core, guessed = _core_of(of, diameter_mm, core_mm)
    unit_mass = unit_mass_g_per_m or _unit_mass_g_per_m(of, diameter_mm, core, wrap)
    tension = float(
        strings.tension_n(unit_mass_g_per_m=unit_mass, length_mm=open_length_mm, pitch_hz=pitch_hz)
    )
    axial = _axial_stiffness_n(of, core, tension) if axial_stiffness_n is None else axial_stiffness_n
    bends_mm = core if of.bending == "core" else diameter_mm
    bending = float(strings.bending_from_axial_n_mm2(axial_stiffness_n=axial, diameter_mm=bends_mm))
    spread = of.guessed_core_spread if guessed else of.spread
    low, high = _breaking_n(of, core)
    return StringConstants(
        unit_mass_g_per_m=unit_mass,
        axial_stiffness_n=axial,
        bending_stiffness_n_mm2=bending if bending_stiffness_n_mm2 is None else bending_stiffness_n_mm2,
        tension_n=tension,
        unit_mass_sd_ratio=_sd(unit_mass_g_per_m, spread.unit_mass_sd_ratio),
        axial_sd_ratio=_sd(axial_stiffness_n, spread.axial_sd_ratio),
        bending_sd_ratio=_sd(bending_stiffness_n_mm2, spread.bending_sd_ratio),
        breaking_low_n=low,
        breaking_high_n=high,
        guessed_core_mm=core if guessed else None,
    )


def _sd(measured: float | None, otherwise: float) -> float:
    return otherwise if measured is None else MEASURED_SD_RATIO


def _core_of(of: StringMake, diameter_mm: float, core_mm: float | None) -> tuple[float, bool]:
    """Diameter in mm of what carries the pull, and whether it was guessed."""
    if not of.wound:
        return diameter_mm, False
    if core_mm is None:
        return usual_core_mm(of.key, diameter_mm), True
    if not 0.0 < core_mm < diameter_mm:
        raise CorrectInputError(
            tr(
                "core_mm is {core_mm:g} mm in a string of {diameter_mm:g} mm",
                core_mm=core_mm,
                diameter_mm=diameter_mm,
            ),
            tr("a core is thicker than 0 and thinner than {diameter_mm:g} mm", diameter_mm=diameter_mm),
            tr("measure both, or leave core_mm out"),
        )
    return core_mm, False


def _unit_mass_g_per_m(of: StringMake, diameter_mm: float, core: float, wrap_key: str | None) -> float:
    if not of.wound:
        plain = strings.round_unit_mass_g_per_m(
            diameter_mm=diameter_mm, density_kg_per_m3=of.density_kg_per_m3
        )
        return float(plain)
    return float(
        strings.wound_unit_mass_g_per_m(
            diameter_mm=diameter_mm,
            core_mm=core,
            core_density_kg_per_m3=of.density_kg_per_m3,
            wrap_density_kg_per_m3=string_wrap(wrap_key or of.usual_wrap or "").density_kg_per_m3,
            wrap_fill_ratio=of.wrap_fill_ratio or math.pi / 4.0,
        )
    )


def _axial_stiffness_n(of: StringMake, core: float, tension_n: float) -> float:
    if of.axial_ratio is not None:
        return of.axial_ratio * tension_n
    return float(strings.round_axial_stiffness_n(diameter_mm=core, modulus_mpa=of.modulus_mpa or math.nan))


def _breaking_n(of: StringMake, core: float) -> tuple[float, float]:
    """Lowest and highest breaking load in N of the carrying part."""
    if of.strength is not None:
        stresses = [
            float(
                strings.wire_breaking_stress_mpa(
                    diameter_mm=core,
                    strength_mpa=constants.strength_mpa,
                    thinning_exponent=constants.thinning_exponent,
                )
            )
            for constants in wire(of.strength).strength
        ]
    else:
        stresses = [of.strength_low_mpa or math.nan, of.strength_high_mpa or math.nan]
    area = math.pi * core**2 / 4.0
    return min(stresses) * area, max(stresses) * area
