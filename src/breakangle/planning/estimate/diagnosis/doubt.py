"""What is known of the state where a reading may be a slip and nobody can tell: the mixture of both, by its moments.

A reading that is likelier honest than not is counted, and one that is likelier a slip is not; but a figure that stands
on either is known less well than one about which there is no such doubt, and lies between what both would make of it.

Source: moments of a mixture of Gaussians, as Y. Bar-Shalom, X. R. Li and T. Kirubarajan (2001), Estimation with
Applications to Tracking and Navigation, section 1.4.16. [memory]
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.estimate.diagnosis.choice import Otherwise, one_change_away
from breakangle.planning.estimate.diagnosis.evidence import Evidence
from breakangle.planning.state.layout import Belief

Array = NDArray[np.float64]
# A chance of being otherwise than it is counted that still counts, and how many readings at once, the most doubtful:
# slips that look like honest figures are each unlikely, and together are not.
# Calibrated by `python -m bench.intervals`.
LEAST_CHANCE, MOST_WEIGHED = 0.008, 24
LEAST_SET_CHANCE = 0.002  # of one of the sets that a reading's chance is made of; chosen
# Where work is decided, so unlikely a slip moves nothing. Calibrated by `python -m bench.closed_loop`.
DECIDING_CHANCE, MOST_DECIDING = 0.01, 12
# What holds 95 in 100 has to reach whatever would else take half of the other five, and 1.96 spreads reach so far where
# the variance is this share of its square. [derived]
REACHED_FROM, REACHING_SHARE = 0.025, 1.96**-2
OPENED = "twist"
SHOWS_SHARE = 0.5  # of what the most telling reading shows of a cause; chosen


def with_doubt(belief: Belief, found: Evidence, moved_too: bool, unseen: bool = True) -> Belief:
    """Return the belief with what it would be if a doubtful reading were otherwise than it is counted mixed in.

    `moved_too`: with the mixture's own mean, to decide on. Without, the most probable state stays where it is, to be
    told, and the spread is that around it, wide enough for 95 in 100 to reach what is likelier than one in 40; with
    `unseen` patterns in it that no gap shows.
    """
    if not found.readings:
        return belief
    counted = [*found.chosen_causes, *(len(found.causes.all) + one for one in found.slips)]
    if moved_too:
        return _decided(belief, found, counted)
    opened = _opened(belief, found)
    stands, before = _shift(found, _both(counted, opened)), _spread(found, counted)
    left_open = set(opened) - set(counted)
    columns, already = [found.unseen] if unseen else [], 0.0
    for chance, share, otherwise, slipped in _otherwise(found, counted, opened):
        moved = _shift(found, otherwise) - stands
        columns.append(np.sqrt(share) * moved[:, None])
        if slipped:
            columns.append(
                np.sqrt(chance) * _spread(found, [one for one in otherwise if one not in left_open])
            )
            already += chance
    if not columns:
        return belief
    every = np.concatenate(columns, axis=1)
    return replace(belief, covariance=belief.covariance + every @ every.T - already * (before @ before.T))


def _decided(belief: Belief, found: Evidence, counted: list[int]) -> Belief:
    """Return the belief between what doubtful readings say, one by one, and what it is without them."""
    stands, mean = _shift(found, counted), np.zeros_like(belief.mean)
    columns, already = [], 0.0
    for chance, added, otherwise in _doubts(found, counted):
        moved = _shift(found, otherwise) - stands
        mean += chance * moved
        columns.append(np.sqrt(chance) * moved[:, None])
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
    return replace(
        belief,
        mean=belief.mean + mean,
        covariance=belief.covariance + covariance - np.outer(mean, mean),
    )


def _opened(belief: Belief, found: Evidence) -> tuple[int, ...]:
    """Return the causes that the state was left open to where it was read, whether they are believed in or not.

    Relief at each edge stands as it was read (`open_to_what_is_read`): what a slip in it moves is told from there, not
    from between both.
    """
    return () if belief.seen_before else found.causes.of_pattern.get(OPENED, ())


def _otherwise(
    found: Evidence, counted: list[int], opened: Sequence[int]
) -> Iterator[tuple[float, float, list[int], bool]]:
    """Yield how likely a set is that differs in a slip, what share of its shift is told, the set, and if one came in.

    A slip may be another reading's, or a pattern instead: two readings that cannot both be honest speak for either.
    """
    first, taken = len(found.causes.all), found.choice.chosen
    sets: dict[tuple[int, int], list[Otherwise]] = {}
    for one in one_change_away(found.told, taken, LEAST_SET_CHANCE):
        added, dropped = _or_none(one.added), _or_none(one.dropped)
        if max(added, dropped) >= first:
            sets.setdefault((added, -1) if added >= first else (-1, dropped), []).append(one)
    near = [(sum(one.probability for one in own), own) for own in sets.values()]
    near = [(chance, own) for chance, own in near if chance >= LEAST_CHANCE]
    for chance, own in sorted(near, key=lambda one: -one[0])[:MOST_WEIGHED]:
        for one in own:
            slip = _or_none(one.added) - first
            rivals = [cause for cause in opened if slip >= 0 and _shows(found, cause, slip)]
            rest = [cause for cause in _both(counted, opened) if cause not in (one.dropped, *rivals)]
            otherwise = rest if one.added is None else _both(rest, [one.added])
            told = max(told_share(one.probability), told_share(chance) * one.probability / chance)
            yield one.probability, told, otherwise, slip >= 0


def _shows(found: Evidence, cause: int, reading: int) -> bool:
    """Return whether a reading shows a cause about as much as any reading does."""
    shown = np.abs(found.shown[:, cause])
    return bool(shown[reading] >= SHOWS_SHARE * shown.max())


def _both(causes: Sequence[int], others: Sequence[int]) -> list[int]:
    return list(dict.fromkeys([*causes, *others]))


def _or_none(place: int | None) -> int:
    return -1 if place is None else place


def told_share(chance: float) -> float:
    """Return what share of its shift's square a doubtful reading adds to a variance that is told as an interval."""
    return max(chance, REACHING_SHARE) if chance >= REACHED_FROM else chance


def _doubts(found: Evidence, counted: list[int]) -> Iterator[tuple[float, bool, list[int]]]:
    """Yield how likely each doubtful reading is otherwise, whether it is then a slip, and the causes there then are."""
    first = len(found.causes.all)
    slips = np.arange(first, first + len(found.readings))
    chance = found.choice.probability[slips].copy()
    taken = np.isin(slips, counted)
    chance[taken] = 1.0 - chance[taken]
    for place in np.argsort(-chance)[:MOST_DECIDING].tolist():
        if chance[place] >= DECIDING_CHANCE:
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
