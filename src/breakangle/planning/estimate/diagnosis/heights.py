"""Figures of the state that several patterns ask for: gaps as a straight string has them, and their rows."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.estimate.house_targets import relief_fret
from breakangle.planning.kinds.readings.gap import Gap, HeldFrets, predict_straight
from breakangle.planning.kinds.targets.gap import GapTarget
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import layout_of
from breakangle.planning.state.picture import Picture, picture_of
from breakangle.reference.families import family_of

Array = NDArray[np.float64]


def straight(picture: Picture, gaps: Sequence[HeldFrets]) -> tuple[Array, Array]:
    """Return these gaps of a straight string in mm (G,), below nothing where it would not clear, and rows (G, N)."""
    found = predict_straight(gaps, picture)
    return found.values, found.rows


def full_strings(board: Board) -> list[int]:
    """Return the numbers of the strings that run from the nut, the treble edge first."""
    return [number + 1 for number, first in enumerate(board.first.tolist()) if first == 0]


@lru_cache(maxsize=64)
def relief_gaps(board: Board) -> tuple[Gap, ...]:
    """Return the gap of relief at the bass edge and at the treble edge; none where no two strings run from the nut."""
    strings = full_strings(board)
    middle, joint = relief_fret(board.instrument, family_of(board.instrument)), board.instrument.joint_fret
    if len(strings) < 2 or not 1 < middle < joint:
        return ()
    return tuple(Gap(string=one, fret=middle, held=(1, joint), mm=0.0) for one in (strings[-1], strings[0]))


@lru_cache(maxsize=64)
def flat_rows(board: Board) -> tuple[Array, Array]:
    """Return the rows of relief at the bass edge less the treble edge, and of their mean, with no string on a crown."""
    layout = layout_of(board.string_count, board.fret_count)
    bowed = np.zeros(layout.size)
    bowed[layout["neck"][0]] = 1.0
    rows = straight(picture_of(board, bowed), relief_gaps(board))[1]
    return rows[0] - rows[1], rows.mean(axis=0)


def bent(board: Board) -> Array:
    """Return the direction of state that adds 1 mm of relief, the neck bent evenly."""
    layout = layout_of(board.string_count, board.fret_count)
    found = np.zeros(layout.size)
    found[layout["neck"][0]] = 1.0 / float(flat_rows(board)[1][layout["neck"][0]])
    return found


LEAST_SHARE = (
    0.05  # of a saddle's move that a gap shows, where its string lies on a crown; common practice, no source
)


def to_lower_mm(picture: Picture, actions: Sequence[GapTarget]) -> tuple[Array, Array]:
    """Return how far each string's saddle should come down for its action, in mm (A,), and rows (A, N)."""
    values, rows = straight(picture, actions)
    share = _of_saddles(picture, actions, rows)
    off = values - np.array([one.mm for one in actions])
    return off / share, rows / share[:, None]


def saddle_shares(picture: Picture, actions: Sequence[GapTarget]) -> Array:
    """Return how much of a move of its saddle each action shows, (A,)."""
    return _of_saddles(picture, actions, straight(picture, actions)[1])


def _of_saddles(picture: Picture, actions: Sequence[GapTarget], rows: Array) -> Array:
    saddle = picture.layout["saddle_height"][[one.string - 1 for one in actions]]
    return np.maximum(rows[np.arange(len(actions)), saddle], LEAST_SHARE)


STANDS_OUT = 8.0  # times what the others' spread about their line leaves; common practice, no source


def together(values: Array, design: Array, least: float) -> tuple[Array, float]:
    """Return shares (K, S) whose sums over `values` fit `design` (S, K), and how the values scatter about the fit.

    One string that stands out by more than `least` and far beyond the others' scatter has no share: it is a matter of
    its own, or a slip.
    """
    kept = np.arange(len(values))
    while True:
        own = design[kept]
        inverse = np.linalg.pinv(own)
        residual = values[kept] - own @ (inverse @ values[kept])
        free = 1.0 - np.einsum("ij,ji->i", own, inverse)
        scatter = float(residual @ residual)
        without = scatter - residual**2 / np.maximum(free, 1e-9)
        worst = int(np.argmin(without))
        if len(kept) <= design.shape[1] + 2 or scatter < max(STANDS_OUT * without[worst], least**2):
            break
        kept = np.delete(kept, worst)
    shares = np.zeros((design.shape[1], len(values)))
    shares[:, kept] = inverse
    return shares, float(np.sqrt(scatter / max(len(kept) - design.shape[1], 1)))


def crown_places_mm(board: Board) -> Array:
    """Return the places of the crowns in mm from the nut, on the mean of the strings, (F,)."""
    return np.asarray(board.along_mm[:, 1:-1].mean(axis=0))
