"""How far down every note swings over every crown at a strength of play, as levelling needs it."""

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.buzz.contact_notes import board_notes, swing_depths
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import layout_of
from breakangle.planning.state.picture import picture_of
from breakangle.reference.strength import Playing

Array = NDArray[np.float64]


def swings_mm(board: Board, playing: Playing, strength: str) -> Array:
    """Return the swing of every string at every stop over every crown, mm, shape (S, F + 1, F), NaN: no crown.

    Raises:
        CorrectInputError: a strength that is not light, medium or heavy.

    Source: the exact motion of the damped stiff string, `physics.contact.linear`.
    """
    level = picture_of(board, np.zeros(layout_of(board.string_count, board.fret_count).size))
    notes = board_notes(level)
    found = np.full((board.string_count, board.fret_count + 1, board.fret_count), np.nan)
    found[notes.string, notes.stop] = playing.strengths.height_mm(strength) * swing_depths(board, playing)
    return found
