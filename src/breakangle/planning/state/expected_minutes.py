"""What a figure costs at the bench, in minutes, by the chance that it stands outside its tolerance.

A figure that leaves the bench outside comes back; a move costs its own minutes; one more reading costs a quarter of one
and is worth what it changes. All else in a plan follows from these three.
"""

from math import erfc, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

OUT_MINUTES = (
    30.0  # a figure handed back outside comes back for a visit of its own; common practice, no source
)
REDO_MINUTES = (
    2.0  # what came out wrong is seen at the end of its trip, and set again; common practice, no source
)
FAR_MINUTES = (
    6.0  # per tolerance farther out: nearer is better where inside is out of reach; calibrated by closed_loop
)
FAR_MOST = 6.0  # tolerances past which farther makes no difference; calibrated by closed_loop
LIKELY_OUT = 0.06  # chance of being out from which what can be put back is moved; calibrated by closed_loop
MOST_SURE = 1e-3  # no figure is surer than one reading in a thousand is typed wrong unseen; common practice, no source

# Gauss-Hermite nodes for what a further reading may show; seven are exact for polynomials to the thirteenth.
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)
_SHARES = _WEIGHTS / _WEIGHTS.sum()
# A plan asks for some thousand figures: the standard library's function does that in a millisecond, where loading one
# that is made for arrays takes a fifth of a second of every process. Exact: of one argument, with one result.
_ERFC = np.frompyfunc(erfc, 1, 1)


def chance_out(off: ArrayLike, tolerance: ArrayLike, spread: ArrayLike) -> Array:
    """Return how likely figures that are `off` what is wanted, known to `spread`, are outside `tolerance`."""
    wide: Array = np.maximum(np.asarray(spread, dtype=np.float64), 1e-9)
    far, limit = np.asarray(off) / wide, np.asarray(tolerance) / wide
    chance = _share_below(far - limit) + _share_below(-far - limit)
    return np.asarray(np.minimum(np.maximum(chance, MOST_SURE), 1.0))


def _share_below(far: Array) -> Array:
    """Return the share of a normal distribution below `far` standard deviations from its middle."""
    return np.asarray(0.5 * _ERFC(-far / sqrt(2.0)), dtype=np.float64)


def minutes_left(off: ArrayLike, tolerance: ArrayLike, spread: ArrayLike, seen: ArrayLike = False) -> Array:
    """Return what it costs to hand figures back as they are, in minutes expected.

    `seen`: those that are read once their adjuster has been moved, and moved again if they have come out wrong.
    """
    ratio = np.abs(np.asarray(off)) / np.asarray(tolerance)
    beyond = np.minimum(np.maximum(ratio - 1.0, 0.0), FAR_MOST)
    out_minutes = np.where(np.asarray(seen) & (ratio < 1.0), REDO_MINUTES, OUT_MINUTES)
    return np.asarray(out_minutes * chance_out(off, tolerance, spread) + FAR_MINUTES * beyond)


def worth_reading(
    off: Array,
    tolerance: Array,
    spread: Array,
    noise: Array,
    mending: tuple[Array, Array, Array, NDArray[np.bool_]],
    left: NDArray[np.bool_],
) -> Array:
    """Return how many minutes one more reading of each figure saves, before what the reading itself costs.

    `noise` is the gauge's spread. `mending`: what it costs to bring the figure to what is wanted (inf where nothing
    does), the spread that the hand adds, how likely it has to be outside before that is done, and whether it is seen
    and put right if it comes out wrong. `left` (T,): what is left as it is unless a reading says otherwise.
    """
    moved_minutes, moved_spread, least_chance, seen = mending

    def best(at: Array, known: Array) -> Array:
        after = minutes_left(np.zeros_like(at), tolerance, np.hypot(known, moved_spread), seen)
        stay = minutes_left(at, tolerance, known)
        likely = chance_out(at, tolerance, known) >= least_chance
        return np.where(likely, np.minimum(stay, moved_minutes + after), stay)

    known = spread * noise / np.hypot(spread, noise)
    shift = np.sqrt(np.maximum(spread**2 - known**2, 0.0))
    then = sum(share * best(off + node * shift, known) for node, share in zip(_NODES, _SHARES, strict=True))
    now = np.where(left, minutes_left(off, tolerance, spread), best(off, spread))
    return np.asarray(now - then)
