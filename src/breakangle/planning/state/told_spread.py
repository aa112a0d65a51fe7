"""How well gaps and notes all over the board are known: by the state, and by what belongs to a fret alone.

What a single crown is out of line where the state has no part of its own for it, and where on its fret a string ends.
The octave is what a saddle is set by: where that fret stands is in its reading.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.string.intonation import CENTS_PER_NEPER
from breakangle.planning.state.board import Board
from breakangle.planning.state.crowns import AN_OCTAVE, left_out_mm
from breakangle.planning.state.layout import Belief
from breakangle.planning.state.picture import Picture

Array = NDArray[np.float64]
# Where the top of a crown stands, sawn, seated and dressed, one standard deviation; common practice, no source.
FRET_PLACE_SPREAD_MM = 0.05


@lru_cache(maxsize=64)
def own_cents(board: Board) -> Array:
    """Return the spread of every stopped note by where its own fret stands, in cents, shape (S, F); NaN before a nut.

    A length X from crown to saddle is in the note as C ln X. [derived]
    """
    sounding_mm = board.along_mm[:, -1:] - board.along_mm[:, 1:-1]
    found = CENTS_PER_NEPER * FRET_PLACE_SPREAD_MM / sounding_mm
    frets = np.arange(1, board.fret_count + 1)
    octave = frets[None, :] == board.first[:, None] + AN_OCTAVE
    found = np.where(octave, 0.0, found)
    found.flags.writeable = False
    return found


def cents_spread(picture: Picture, belief: Belief) -> Array:
    """Return the standard uncertainty of every stopped note in cents, shape (S, F)."""
    return np.asarray(np.hypot(belief.spread(np.nan_to_num(picture.cents_rows)), own_cents(picture.board)))


def clearance_spread_mm(picture: Picture, belief: Belief) -> Array:
    """Return the standard uncertainty of the open string's clearance over every crown, mm, shape (S, F)."""
    return np.asarray(np.hypot(belief.spread(picture.clearance_rows), left_out_mm(picture.board)[:, 1:-1]))
