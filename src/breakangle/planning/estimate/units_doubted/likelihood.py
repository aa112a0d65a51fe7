"""How likely a typed number is in each unit: on which graduation it lies, and how probable the length would be."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import erf, exp, log, pi, sqrt

# Exact: the inch of 1959.
INCH_MM = 25.4
# What a number typed bare can be in, with the length of one in mm.
# Exact.
UNIT_MM: Mapping[str, float] = {"mm": 1.0, "in": INCH_MM, "thou": INCH_MM / 1000.0, "64ths": INCH_MM / 64.0}
# How often a figure is read or written to each graduation, in its own unit: rulers, feelers, dial and digital gauges,
# programs. Common practice, no source; what a sheet shows of its own is added to it (`graduations_seen`).
GRADUATIONS: Mapping[str, Mapping[float, float]] = {
    "mm": {1.0: 0.03, 0.5: 0.08, 0.1: 0.20, 0.05: 0.25, 0.01: 0.32, 0.005: 0.05, 0.001: 0.06},
    "in": {0.01: 0.04, 0.005: 0.14, 0.001: 0.68, 0.0005: 0.10, 0.0001: 0.03},
    "thou": {5.0: 0.14, 1.0: 0.70, 0.5: 0.13, 0.1: 0.02},
    "64ths": {1.0: 0.80, 0.5: 0.19},
}
# Where nothing else is said below: common practice, no source.
UNGRADED = 0.01  # written finer than any graduation: then how it is written tells nothing, whatever the unit
UNGRADED_MM = 0.0005
# Chosen: rounding.
SAME = 1e-6
SEEN_WEIGHT = (
    4.0  # a sheet's own figures count as much as the above once it has four; common practice, no source
)
# A tenth of instruments are far from their family: there the spread is three times as wide. Common practice, no source.
FAR_SHARE, FAR_RATIO = 0.1, 3.0
# As many necks come in straight, and nuts cut to almost nothing, whatever their family. Common practice, no source.
NOTHING_SHARE, NOTHING_SPREAD_MM = 0.1, 0.05
# Chosen: rounding.
LEAST_DENSITY = 1e-9


@dataclass(frozen=True)
class Expectation:
    """What a length should be, in mm: `sized` ones are never near nothing (an action, a string); others may be.

    `signed` ones may lie to either side of nothing (a crown).
    """

    mean_mm: float
    spread_mm: float
    sized: bool
    signed: bool = False

    def density(self, mm: float) -> float:
        """Return the probability density of a length of `mm`, per mm."""
        nothing = 0.0 if self.sized or self.signed else NOTHING_SHARE
        found = (1.0 - FAR_SHARE - nothing) * self._one(mm, 1.0) + FAR_SHARE * self._one(mm, FAR_RATIO)
        if nothing and mm > 0.0:
            found += nothing * 2.0 * _normal(mm / NOTHING_SPREAD_MM) / NOTHING_SPREAD_MM
        return max(found, LEAST_DENSITY)

    def _one(self, mm: float, wide: float) -> float:
        if self.sized:
            ratio = self.spread_mm / self.mean_mm * wide
            return 0.0 if mm <= 0.0 else _normal(log(mm / self.mean_mm) / ratio) / (ratio * mm)
        spread = self.spread_mm * wide
        above = 1.0 if self.signed else 0.5 * (1.0 + erf(self.mean_mm / spread / sqrt(2.0)))
        possible = self.signed or mm > 0.0
        return _normal((mm - self.mean_mm) / spread) / spread / above if possible else 0.0


Graduations = Mapping[float, float]


def graduations_seen(unit: str, numbers: list[float]) -> Graduations:
    """Return how often each graduation of `unit` is used where `numbers`, surely in it, stand on the same sheet."""
    usual = GRADUATIONS[unit]
    found = {step: share * SEEN_WEIGHT for step, share in usual.items()}
    for number in numbers:
        coarsest = next((step for step in sorted(usual, reverse=True) if _lies_on(number, step)), None)
        if coarsest is not None:
            found[coarsest] += 1.0
    whole = SEEN_WEIGHT + len(numbers)
    return {step: share / whole for step, share in found.items()}


def likelihood(
    number: float, unit: str, expected: Expectation, graduations: Graduations | None = None
) -> float:
    """Return the probability of typing `number` for a length in `unit` of which `expected` is believed.

    It is that of the cell which the number stands for: how often figures are written to each graduation that it lies
    on, times the graduation's length in mm, times the density there.
    """
    shares = GRADUATIONS[unit] if graduations is None else graduations
    one_mm = UNIT_MM[unit]
    cells = sum(share * step * one_mm for step, share in shares.items() if _lies_on(number, step))
    if unit in ("mm", "in"):
        cells += UNGRADED * UNGRADED_MM
    return cells * expected.density(number * one_mm)


def _lies_on(number: float, step: float) -> bool:
    return abs(number / step - round(number / step)) * step < SAME


def _normal(spreads: float) -> float:
    return exp(-0.5 * min(spreads * spreads, 1400.0)) / sqrt(2.0 * pi)
