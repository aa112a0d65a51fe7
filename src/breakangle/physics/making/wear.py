"""Wear of frets: how fast a groove deepens, from its depth on several days, and when it comes to a limit."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from breakangle.physics.arrays import floats

NINETEEN_IN_20 = 1.959964  # spreads of a normal that hold 95 % of it; exact


@dataclass(frozen=True)
class WearRate:
    """A rate in mm a year with its standard error, and the depth at the last reading by the fitted line, mm."""

    mm_per_year: float
    spread: float
    depth_mm: float

    @property
    def interval(self) -> tuple[float, float]:
        """Return the rates between which it lies 19 times in 20, none below nothing: metal does not come back.

        Source: 1.96 standard errors each way, known variances [any text on least squares].
        """
        half = NINETEEN_IN_20 * self.spread
        return max(self.mm_per_year - half, 0.0), max(self.mm_per_year + half, 0.0)

    def years_to(self, limit_mm: float) -> tuple[float, float, float]:
        """Return the years from the last reading until the groove is `limit_mm` deep: likeliest, soonest, latest.

        Infinite where a rate of nothing is among those that it may be; zero where it is that deep already.

        Source: what is left, divided by the rate and by either end of its interval [derived].
        """
        left = max(limit_mm - self.depth_mm, 0.0)
        slow, fast = self.interval
        told = [
            left / one if one > 0.0 else (np.inf if left else 0.0) for one in (self.mm_per_year, fast, slow)
        ]
        return told[0], told[1], told[2]


def wear_rate(when_years: ArrayLike, depth_mm: ArrayLike, gauge_mm: ArrayLike) -> WearRate:
    """Return how fast a groove deepens; anything where all was read at once.

    Args:
        when_years: when each depth was read, any origin, (N,).
        depth_mm: how deep it was, mm, (N,).
        gauge_mm: one standard deviation of each reading, mm, (N,).

    Source: straight line by weighted least squares, known variances: slope Σw(t − t̄)y / Σw(t − t̄)², its variance
    1 / Σw(t − t̄)² [derived; any text on least squares].
    """
    when, depth, weight = floats(when_years), floats(depth_mm), 1.0 / floats(gauge_mm) ** 2
    centre = float(np.sum(weight * when) / np.sum(weight))
    across = float(np.sum(weight * (when - centre) ** 2))
    middle = float(np.sum(weight * depth) / np.sum(weight))
    if across <= 0.0:
        return WearRate(0.0, np.inf, middle)
    rate = float(np.sum(weight * (when - centre) * depth) / across)
    return WearRate(rate, across**-0.5, middle + rate * (float(when.max()) - centre))
