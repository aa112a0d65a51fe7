"""What is known of the state where a reading may be a slip and nobody can tell: the mixture of both, by its moments.

A reading that is likelier honest than not is counted, and one that is likelier a slip is not; but a figure that stands
on either is known less well than one about which there is no such doubt, and lies between what both would make of it.

Source: moments of a mixture of Gaussians, as Y. Bar-Shalom, X. R. Li and T. Kirubarajan (2001), Estimation with
Applications to Tracking and Navigation, section 1.4.16. [memory]
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.estimate.diagnosis.evidence import Evidence
from breakangle.planning.state.layout import Belief

Array = NDArray[np.float64]
# A chance of being otherwise than it is counted that still counts, and how many readings at once, the most doubtful:
# slips that look like honest figures are each unlikely, and together are not.
# Calibrated by `python -m bench.intervals`.
LEAST_CHANCE, MOST_WEIGHED = 0.008, 24
# Where work is decided, so unlikely a slip moves nothing. Calibrated by `python -m bench.closed_loop`.
DECIDING_CHANCE, MOST_DECIDING = 0.01, 12
# What holds 95 in 100 has to reach whatever would else take half of the other five, and 1.96 spreads reach so far where
# the variance is this share of its square. [derived]
REACHED_FROM, REACHING_SHARE = 0.025, 1.96**-2


def with_doubt(belief: Belief, found: Evidence, moved_too: bool, unseen: bool = True) -> Belief:
    """Return the belief with what it would be if a doubtful reading were otherwise than it is counted mixed in.

    `moved_too`: with the mixture's own mean, to decide on. Without, the most probable state stays where it is, to be
    told, and the spread is that around it, wide enough for 95 in 100 to reach what is likelier than one in 40; with
    `unseen` patterns in it that no gap shows.
    """
    if not found.readings:
        return belief
    limits = (DECIDING_CHANCE, MOST_DECIDING) if moved_too else (LEAST_CHANCE, MOST_WEIGHED)
    counted = [*found.chosen_causes, *(len(found.causes.all) + one for one in found.slips)]
    stands, mean = _shift(found, counted), np.zeros_like(belief.mean)
    columns, already = [found.unseen] if unseen and not moved_too else [], 0.0
    for chance, added, otherwise in _doubts(found, counted, *limits):
        moved = _shift(found, otherwise) - stands
        mean += chance * moved
        weight = chance if moved_too else told_share(chance)
        columns.append(np.sqrt(weight) * moved[:, None])
        if added:
            columns.append(np.sqrt(chance) * _spread(found, otherwise))
            already += chance
    if not columns:
        return belief
    every = np.concatenate(columns, axis=1)
    covariance = every @ every.T
    if counted and already:
        before = _spread(found, counted)
        covariance -= already * (before @ before.T)
    if not moved_too:
        return replace(belief, covariance=belief.covariance + covariance)
    return replace(
        belief,
        mean=belief.mean + mean,
        covariance=belief.covariance + covariance - np.outer(mean, mean),
    )


def told_share(chance: float) -> float:
    """Return what share of its shift's square a doubtful reading adds to a variance that is told as an interval."""
    return max(chance, REACHING_SHARE) if chance >= REACHED_FROM else chance


def _doubts(
    found: Evidence, counted: list[int], least: float, most: int
) -> Iterator[tuple[float, bool, list[int]]]:
    """Yield how likely each doubtful reading is otherwise, whether it is then a slip, and the causes there then are."""
    first = len(found.causes.all)
    slips = np.arange(first, first + len(found.readings))
    chance = found.choice.probability[slips].copy()
    taken = np.isin(slips, counted)
    chance[taken] = 1.0 - chance[taken]
    for place in np.argsort(-chance)[:most].tolist():
        if chance[place] >= least:
            slip = first + place
            rest = [one for one in counted if one != slip]
            yield float(chance[place]), not taken[place], rest if taken[place] else [*rest, slip]


def _shift(found: Evidence, causes: list[int]) -> Array:
    """Return by how much the state is otherwise with these causes than with none, (N,)."""
    if not causes:
        return np.zeros(len(found.left_behind))
    return np.asarray(found.left_behind[:, causes] @ found.told.amplitudes(causes)[0])


def _spread(found: Evidence, causes: list[int]) -> Array:
    """Return a factor of what these causes add to the state's covariance: columns (N, K), times their transpose."""
    if not causes:
        return np.zeros((len(found.left_behind), 0))
    values, vectors = np.linalg.eigh(found.told.amplitudes(causes)[1])
    return np.asarray(found.left_behind[:, causes] @ (vectors * np.sqrt(np.maximum(values, 0.0))))
