"""A figure and how well it is known."""

from dataclasses import dataclass

# Derived: 19 times in 20 of a normal distribution.
COVERING_SPREADS = 2.0


@dataclass(frozen=True)
class Known:
    """A value with its standard uncertainty, both in the unit that the name of the field says."""

    value: float
    uncertainty: float

    @property
    def low(self) -> float:
        """Return the lower end of the interval that holds 19 times in 20."""
        return self.value - COVERING_SPREADS * self.uncertainty

    @property
    def high(self) -> float:
        """Return the upper end of the interval that holds 19 times in 20."""
        return self.value + COVERING_SPREADS * self.uncertainty
