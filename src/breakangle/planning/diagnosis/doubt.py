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

from breakangle.planning.diagnosis.evidence import Evidence
from breakangle.planning.layout import Belief

Array = NDArray[np.float64]
LEAST_CHANCE = 0.01  # of being otherwise than it is counted: less changes nothing; common practice, no source
MOST_WEIGHED = (
    12  # readings at once, the most doubtful: more are never in doubt together; common practice, no source
)


def with_doubt(belief: Belief, found: Evidence, moved_too: bool) -> Belief:
    """Return the belief with what it would be if a doubtful reading were otherwise than it is counted mixed in.

    `moved_too`: with the mixture's own mean, to decide on. Without, the most probable state stays where it is, to be
    told, and the spread is that around it.
    """
    if not found.readings:
        return belief
    counted = [*found.chosen_causes, *(len(found.causes.all) + one for one in found.slips)]
    stands = _shift(found, counted)
    mean, covariance = np.zeros_like(belief.mean), np.zeros_like(belief.covariance)
    for chance, added, otherwise in _doubts(found, counted):
        moved = _shift(found, otherwise) - stands
        mean += chance * moved
        covariance += chance * np.outer(moved, moved)
        if added:
            covariance += chance * (_spread(found, otherwise) - _spread(found, counted))
    if not mean.any():
        return belief
    if not moved_too:
        return replace(belief, covariance=belief.covariance + covariance)
    return replace(
        belief,
        mean=belief.mean + mean,
        covariance=belief.covariance + covariance - np.outer(mean, mean),
    )


def _doubts(found: Evidence, counted: list[int]) -> Iterator[tuple[float, bool, list[int]]]:
    """Yield how likely each doubtful reading is otherwise, whether it is then a slip, and the causes there then are."""
    first = len(found.causes.all)
    slips = np.arange(first, first + len(found.readings))
    chance = found.choice.probability[slips].copy()
    taken = np.isin(slips, counted)
    chance[taken] = 1.0 - chance[taken]
    for place in np.argsort(-chance)[:MOST_WEIGHED].tolist():
        if chance[place] >= LEAST_CHANCE:
            slip = first + place
            rest = [one for one in counted if one != slip]
            yield float(chance[place]), not taken[place], rest if taken[place] else [*rest, slip]


def _shift(found: Evidence, causes: list[int]) -> Array:
    """Return by how much the state is otherwise with these causes than with none, (N,)."""
    if not causes:
        return np.zeros(len(found.left_behind))
    return np.asarray(found.left_behind[:, causes] @ found.told.amplitudes(causes)[0])


def _spread(found: Evidence, causes: list[int]) -> Array:
    """Return what these causes add to the state's covariance, (N, N)."""
    if not causes:
        return np.zeros((len(found.left_behind),) * 2)
    columns = found.left_behind[:, causes]
    return np.asarray(columns @ found.told.amplitudes(causes)[1] @ columns.T)
