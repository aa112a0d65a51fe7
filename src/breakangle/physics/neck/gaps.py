"""Gaps: string minus crown, with any frets held. Relief, action and nut clearance are all this one function.

A string is described by its points in order: nut, crowns of frets 1 to F, saddle; so a point's index is its
fret number, with 0 the nut and F + 1 the saddle. Between its supports the string is straight, and rests on
whatever stands in its way (the upper hull of the points between the supports).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.intp]


def fret_positions_mm(scale_mm: Array | float, frets: int) -> Array:
    """Return the distance of frets 0 to `frets` from the nut in mm, shape (..., frets + 1).

    Source: twelve equal steps to the octave, x_n = L (1 - 2^(-n/12)); constant 17.817153745.
    """
    ratio = 1.0 - 2.0 ** (-np.arange(frets + 1) / 12.0)
    return np.asarray(scale_mm)[..., None] * ratio


@dataclass(frozen=True)
class Gaps:
    """Gaps and what carries the string there: gap = left part · left height + right part · right height - crown.

    All of shape (readings,). `resting` where the string lies on the crown itself: there the gap is zero.
    `straight_mm` is the gap of a string straight between its outer supports, negative where it would
    have to pass through the crown.
    """

    gap_mm: Array
    left: Indices
    right: Indices
    left_ratio: Array
    right_ratio: Array
    resting: NDArray[np.bool_]
    straight_mm: Array


def gaps(along_mm: Array, height_mm: Array, fret: Indices, left: Indices, right: Indices) -> Gaps:
    """Return the gap between string and crown at `fret` in mm, the string carried at `left` and `right`.

    Args:
        along_mm: place of each point along its string, shape (readings, points), increasing.
        height_mm: height of each point, same shape.
        fret: index of the crown under the gap, shape (readings,).
        left: index of the outer support toward the nut; below `fret`.
        right: index of the outer support toward the saddle; above `fret`.

    Source: the taut string over obstacles is their upper hull; its height at a place is the highest chord
    over that place [derived].
    """
    rows = np.arange(len(fret))
    here, level = along_mm[rows, fret], height_mm[rows, fret]
    start, end = along_mm[rows, left], along_mm[rows, right]
    from_left, from_right = height_mm[rows, left], height_mm[rows, right]
    straight = (from_left * (end - here) + from_right * (here - start)) / (end - start)
    low, high, highest = left.copy(), right.copy(), straight.copy()
    hit = _obstructed(along_mm, height_mm, fret, left, right)
    if np.any(hit):
        low[hit], high[hit], highest[hit] = _highest_chord(
            along_mm[hit], height_mm[hit], fret[hit], left[hit], right[hit]
        )
    total = along_mm[rows, high] - along_mm[rows, low]
    return Gaps(
        gap_mm=np.maximum(highest - level, 0.0),
        left=low,
        right=high,
        left_ratio=(along_mm[rows, high] - here) / total,
        right_ratio=(here - along_mm[rows, low]) / total,
        resting=highest <= level,
        straight_mm=straight - level,
    )


def _obstructed(
    along_mm: Array, height_mm: Array, fret: Indices, left: Indices, right: Indices
) -> NDArray[np.bool_]:
    """Return where (readings,) a crown, other than that under the gap, stands in the straight string's way."""
    rows, points = np.arange(len(fret)), np.arange(along_mm.shape[1])
    start, from_left = along_mm[rows, left][:, None], height_mm[rows, left][:, None]
    slope = (height_mm[rows, right][:, None] - from_left) / (along_mm[rows, right][:, None] - start)
    over = height_mm > from_left + slope * (along_mm - start)
    between = (points > left[:, None]) & (points < right[:, None]) & (points != fret[:, None])
    return np.asarray(np.any(over & between, axis=1))


def _highest_chord(
    along_mm: Array, height_mm: Array, fret: Indices, left: Indices, right: Indices
) -> tuple[Indices, Indices, Array]:
    """Return the two points that carry the string over `fret`, and its height there in mm, each (readings,)."""
    rows = np.arange(len(fret))
    points = np.arange(along_mm.shape[1])
    here = along_mm[rows, fret][:, None]
    before = (points >= left[:, None]) & (points < fret[:, None])
    beyond = (points > fret[:, None]) & (points <= right[:, None])
    behind_mm = np.where(before, here - along_mm, 1.0)
    ahead_mm = np.where(beyond, along_mm - here, 1.0)
    span = behind_mm[:, :, None] + ahead_mm[:, None, :]
    chord = (
        height_mm[:, :, None] * ahead_mm[:, None, :] + height_mm[:, None, :] * behind_mm[:, :, None]
    ) / span
    chord = np.where(before[:, :, None] & beyond[:, None, :], chord, -np.inf)
    best = chord.reshape(len(fret), -1).argmax(axis=1)
    low, high = np.unravel_index(best, chord.shape[1:])
    return low, high, chord[rows, low, high]


def open_clearance_mm(along_mm: Array, height_mm: Array, first: Indices) -> Array:
    """Return the open string's clearance over every crown in mm, shape (strings, frets).

    The string is straight from its nut (point `first` of each string, shape (strings,)) to its saddle;
    negative where a crown would stand in its way; NaN below a short string's own nut.

    Source: a straight line over points [derived].
    """
    rows = np.arange(len(first))
    start_mm, start_height = along_mm[rows, first][:, None], height_mm[rows, first][:, None]
    slope = (height_mm[:, -1:] - start_height) / (along_mm[:, -1:] - start_mm)
    line = start_height + slope * (along_mm - start_mm)
    clear = (line - height_mm)[:, 1:-1]
    crown = np.arange(1, along_mm.shape[1] - 1)
    return np.where(crown > first[:, None], clear, np.nan)
