"""Control charts: single values against limits (Shewhart) and sums of small steps off target (CUSUM), with run lengths.

Everything is in standard units: a value's distance from its target over the standard deviation of a process that is
as it should be.

Sources: W. A. Shewhart (1931), Economic Control of Quality of Manufactured Product; E. S. Page (1954), Continuous
inspection schemes, Biometrika 41, 100; run lengths by the integral equation of A. L. Goel and S. M. Wu (1971),
Determination of A.R.L. and a contour nomogram for CUSUM charts to control normal mean, Technometrics 13, 221.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri, stdtr

Array = NDArray[np.float64]
LIMIT = 3.0  # standard deviations; Shewhart 1931
ALLOWANCE, DECISION = (
    0.5,
    5.0,
)  # CUSUM for a shift of one standard deviation; common practice, Page 1954's form
TINY, LARGEST = (
    1e-9,
    8.0,
)  # a deviation of values that are all alike; a distance that stands for any larger one
NODES = 60  # of the quadrature


@dataclass(frozen=True)
class Cusum:
    """The two sums of a CUSUM chart, each of shape (values,), in standard units; both are zero or more."""

    above: Array
    below: Array

    def alarms(self, decision: float = DECISION) -> NDArray[np.bool_]:
        """Return where either sum is over the decision value, shape (values,)."""
        return (self.above > decision) | (self.below > decision)


def from_those_before(values: ArrayLike) -> Array:
    """Return each value's distance from the mean of all before it, in standard units that are exactly normal.

    Nothing has to be known of the process, and no chart built on them alarms oftener than its run length says while
    the process is steady. The first two values give no distance: they are 0.

    Args:
        values: shape (values,), in order.

    Source: D. M. Hawkins (1987), Self-starting cusum charts for location and scale, The Statistician 36, 299: U(n) is
    the normal quantile of T(n) = sqrt((n - 1) / n) (x(n) - mean) / deviation by Student's t of n - 2 degrees.
    """
    given = np.asarray(values, dtype=float)
    found = np.zeros_like(given)
    for place in range(2, len(given)):
        before = given[:place]
        deviation = max(float(np.std(before, ddof=1)), TINY)
        apart = np.sqrt(place / (place + 1)) * (given[place] - before.mean()) / deviation
        found[place] = np.clip(ndtri(stdtr(place - 1, apart)), -LARGEST, LARGEST)
    return found


def outside(values: ArrayLike, limit: float = LIMIT) -> NDArray[np.bool_]:
    """Return which values in standard units lie outside the limits, shape as given.

    Source: Shewhart 1931.
    """
    found: NDArray[np.bool_] = np.abs(np.asarray(values, dtype=float)) > limit
    return found


def cusum(values: ArrayLike, allowance: float = ALLOWANCE) -> Cusum:
    """Return the sums of what values in standard units lie off target beyond the allowance.

    Args:
        values: shape (values,), in order.
        allowance: half of the shift that matters, in standard deviations.

    Source: Page 1954, the two-sided tabular form.
    """
    given = np.asarray(values, dtype=float)
    above, below = np.zeros_like(given), np.zeros_like(given)
    up = down = 0.0
    for place, value in enumerate(given):
        up, down = max(0.0, up + value - allowance), max(0.0, down - value - allowance)
        above[place], below[place] = up, down
    return Cusum(above, below)


def began(sums: Array, alarm: int) -> int:
    """Return the place at which the step that led to an alarm most likely began: after the sum was last zero.

    Source: Page 1954.
    """
    zero = np.flatnonzero(sums[: alarm + 1] == 0.0)
    return int(zero[-1]) + 1 if len(zero) else 0


def shewhart_run_length(shift: float, limit: float = LIMIT) -> float:
    """Return how many values pass on average before one lies outside the limits, when the mean has moved by `shift`.

    Source: derived: the run is geometric with the chance of one value outside.
    """
    return float(1.0 / (ndtr(-limit + shift) + ndtr(-limit - shift)))


def cusum_run_length(shift: float, allowance: float = ALLOWANCE, decision: float = DECISION) -> float:
    """Return how many values pass on average before either sum is over the decision value, both begun at zero.

    Args:
        shift: of the mean, in standard deviations.
        allowance: of the chart.
        decision: its decision value.

    Source: Goel and Wu 1971; the two sides together by 1/L = 1/L+ + 1/L- (K. W. Kemp 1961, The average run length of
    the cumulative sum chart when a V-mask is used, J. R. Statist. Soc. B 23, 149).
    """
    sides = [_one_sided(sign * shift, allowance, decision) for sign in (1.0, -1.0)]
    return float(1.0 / sum(1.0 / one for one in sides))


def _one_sided(shift: float, allowance: float, decision: float) -> float:
    """Return L(0) of L(s) = 1 + L(0) P(k - s) + integral of L(x) p(x + k - s) dx over 0 to h, by Gauss-Legendre."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    at, weights = 0.5 * decision * (nodes + 1.0), 0.5 * decision * weights
    places = np.append(at, 0.0)
    moved = at[None, :] + allowance - shift - places[:, None]
    density = np.exp(-0.5 * moved**2) / np.sqrt(2.0 * np.pi)
    system = np.eye(NODES + 1)
    system[:, :NODES] -= density * weights
    system[:, NODES] -= ndtr(allowance - shift - places)
    return float(np.linalg.solve(system, np.ones(NODES + 1))[NODES])
