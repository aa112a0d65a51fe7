"""How many more stretches a string needs, from how its falls have shrunk so far.

A fall of a c cents shrinks by a factor q with each stretch, and is heard with some scatter; a and q are weighed on a
grid. Each pair of them tells how many stretches remain until two in a row are inside the tolerance.

Source: Bayes on a grid, A. Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., section 3.7. [memory] The
geometric decay and the figures in capitals: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# Where nothing else is said below: common practice, no source.
USUAL_SHRINK_RATIO, SHRINK_SPREAD_RATIO = 0.5, 0.2
SCATTER_CENTS, SCATTER_RATIO = 0.7, 0.25  # of one fall: how it is heard, and how alike a hand stretches
LARGEST_FALL_CENTS, MOST_STRETCHES, QUIET_IN_A_ROW = 400.0, 60, 2
LOW, MIDDLE, HIGH = 0.05, 0.5, 0.95


@dataclass(frozen=True)
class Remaining:
    """Stretches still needed: the middle, and the ends of what holds 9 times in 10."""

    likely: int
    low: int
    high: int


def remaining_stretches(falls_cents: Sequence[float], tolerance_cents: float) -> Remaining:
    """How many more stretches it likely takes until two in a row move the pitch by no more than the tolerance.

    Args:
        falls_cents: change of pitch over each stretch so far, first to last; the sign does not matter.
        tolerance_cents: change over one stretch that counts as none.
    """
    falls = np.abs(np.asarray(falls_cents, dtype=np.float64))
    quiet = _quiet_at_the_end(falls, tolerance_cents)
    if quiet >= QUIET_IN_A_ROW:
        return Remaining(0, 0, 0)
    first, shrink = np.meshgrid(
        np.geomspace(0.3, LARGEST_FALL_CENTS, 90), np.linspace(0.04, 0.97, 63), indexing="ij"
    )
    weight = _weight(falls, first, shrink)
    needed = _needed(first, shrink, len(falls), quiet, tolerance_cents)
    order = np.argsort(needed, axis=None)
    share = np.cumsum(weight.ravel()[order])
    share = share / share[-1]
    at = [int(needed.ravel()[order][np.searchsorted(share, part)]) for part in (MIDDLE, LOW, HIGH)]
    return Remaining(*at)


def _quiet_at_the_end(falls: NDArray[np.float64], tolerance_cents: float) -> int:
    """Return how many of the last stretches in a row were inside the tolerance."""
    count = 0
    for fall in falls[::-1]:
        if fall > tolerance_cents:
            break
        count += 1
    return count


def _weight(
    falls: NDArray[np.float64], first: NDArray[np.float64], shrink: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return how likely each pair of first fall and shrinking is, after the falls so far."""
    log = -0.5 * ((shrink - USUAL_SHRINK_RATIO) / SHRINK_SPREAD_RATIO) ** 2
    for index, fall in enumerate(falls):
        expected = first * shrink**index
        scatter = np.hypot(SCATTER_CENTS, SCATTER_RATIO * expected)
        log = log - 0.5 * ((fall - expected) / scatter) ** 2 - np.log(scatter)
    return np.asarray(np.exp(log - log.max()))


def _needed(
    first: NDArray[np.float64],
    shrink: NDArray[np.float64],
    done: int,
    quiet: int,
    tolerance_cents: float,
) -> NDArray[np.int64]:
    """Return the stretches still needed for each pair: the first quiet one yet to come, and those after it."""
    steps = np.log(np.maximum(tolerance_cents / first, 1e-9)) / np.log(shrink)
    first_quiet = np.maximum(np.ceil(steps - 1e-9), done)
    waiting = first_quiet - done
    already = np.where(waiting > 0, 0, quiet)
    needed = waiting + QUIET_IN_A_ROW - already
    return np.asarray(np.clip(needed, 1, MOST_STRETCHES).astype(np.int64))
