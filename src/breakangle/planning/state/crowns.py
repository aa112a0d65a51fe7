"""How crowns scatter on a board, and which of them have an unknown of their own.

Each crown stands out of line by what all strings share, by a slope across the board, and by its own under each string.
Only where figures are read as a routine does the state hold a crown's own part; elsewhere it is scatter.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import OWN_CROWNS, Belief
from breakangle.reference.families import family_of
from breakangle.reference.frets import CrownScatter, crown_scatter

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
# Shares of a crown's variance: the same under all strings, a slope across the board (at its edge), its own under each.
# Common practice, no source.
SHARED_SHARE, TILT_SHARE, OWN_SHARE = 0.25, 0.05, 0.70
AT_NUT, HELD_AT_NUT, AN_OCTAVE = 1, 3, 12  # frets of the routine; common practice, no source


def scatter_of(board: Board) -> CrownScatter:
    """Return how crowns of this board scatter, by what is known of its frets."""
    return crown_scatter(board.instrument.fret_condition)


@lru_cache(maxsize=64)
def own_crown_frets(board: Board) -> Indices:
    """Return the frets whose crowns have an own part in the state, shape (S, OWN_CROWNS); 0 where there is none.

    They are those of the routine: nut clearance, relief and action, and what is held for them.
    """
    kin, joint = family_of(board.instrument), board.instrument.joint_fret
    middle = min(max(round(kin.relief_fret * joint / kin.joint_fret), 2), joint - 1)
    found = np.zeros((board.string_count, OWN_CROWNS), dtype=np.intp)
    for index, own_nut in enumerate(board.first.tolist()):
        wanted = (own_nut + AT_NUT, own_nut + HELD_AT_NUT, middle, joint, own_nut + AN_OCTAVE)
        some = [fret for fret in dict.fromkeys(wanted) if own_nut < fret <= board.fret_count]
        found[index, : len(some)] = some
    found.flags.writeable = False
    return found


@lru_cache(maxsize=64)
def has_own(board: Board) -> NDArray[np.bool_]:
    """Return which points have an own part in the state or are no crown at all, shape (S, F + 2)."""
    found = np.zeros(board.along_mm.shape, dtype=bool)
    np.put_along_axis(found, own_crown_frets(board), True, axis=1)
    found[:, [0, -1]] = True
    found[np.arange(board.string_count), board.first] = True
    return found


@lru_cache(maxsize=64)
def left_out_mm(board: Board) -> Array:
    """Return the spread of every point's own part that the state leaves out, mm, shape (S, F + 2)."""
    scatter = scatter_of(board)
    own = np.sqrt(OWN_SHARE * scatter.variance_mm2(scatter.rough_share))
    return np.where(has_own(board), 0.0, own)


def rough_share(board: Board, belief: Belief) -> float:
    """Return how probable it is that this board is a rough one, by its crowns if they were read."""
    return scatter_of(board).rough_share if belief.crowns is None else belief.crowns.rough_share
