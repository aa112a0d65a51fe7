"""What has moved together is read at a few places: of many figures, the few whose readings settle all the others."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.target_state import Sight

Array = NDArray[np.float64]


def telling_few(
    now: Estimate, sight: Sight, places: Sequence[int], enough: Array, noise: Array
) -> tuple[int, ...]:
    """Return the fewest of the targets `places` whose readings make all of them known well enough, most telling first.

    `enough` (T,) is the spread that each target has to come down to, `noise` (T,) that of one more reading of it. Found
    one by one: the reading after which fewest are still open, then least of the doubt.
    """
    at = np.array(places, dtype=np.intp)
    rows, limit, gauge = sight.rows[at], enough[at], noise[at] ** 2
    covariance = rows @ now.belief.covariance @ rows.T
    chosen: list[int] = []
    while len(chosen) < len(at):
        variance = np.diag(covariance)
        if (np.sqrt(np.maximum(variance, 0.0)) <= limit).all():
            break
        after = variance[:, None] - covariance**2 / (variance + gauge)
        excess = np.maximum(np.sqrt(np.maximum(after, 0.0)) / limit[:, None] - 1.0, 0.0)
        cost = (excess > 0.0).sum(axis=0) + excess.sum(axis=0) / (1.0 + excess.sum())
        cost[chosen] = np.inf
        best = int(np.argmin(cost))
        chosen.append(best)
        covariance = after_reading(covariance, best, float(noise[at[best]]))
    return tuple(int(at[index]) for index in chosen)


def after_reading(covariance: Array, place: int, noise: float) -> Array:
    """Return the covariance (T, T) of figures once the one at `place` has been read with a gauge of spread `noise`.

    A reading of a figure of variance v, with gauge variance n, takes c c' / (v + n) off. [derived]
    """
    row = covariance[place]
    return np.asarray(covariance - np.outer(row, row) / (row[place] + noise**2))
