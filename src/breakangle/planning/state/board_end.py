"""How a board's end over the body may rise without anybody having seen it: its shape, its usual size, how often.

A short straight-edge rocks on single crowns and lies still on a smooth rise, so crown readings tell nothing of it; only
gaps read past the joint do.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.state.board import Board

Array = NDArray[np.float64]

# At the last fret, one standard deviation and never below nothing; and on how many boards. Common practice, no source.
RISE_MM, RISE_MET_WITH = 0.4, 0.08
BENDS = 1.4  # it rises a little more toward its end: neither straight nor a full curve; common practice, no source
FEWEST_FRETS = 3  # past the joint: a shorter end is not a tongue; common practice, no source


@lru_cache(maxsize=64)
def end_rise(board: Board) -> Array | None:
    """Return how high every crown rises for each mm at the last one, shape (F,); None where the end is too short."""
    joint, last = board.instrument.joint_fret, board.fret_count
    if last - joint < FEWEST_FRETS:
        return None
    along_mm = np.asarray(board.along_mm[:, 1:-1].mean(axis=0))
    past = np.maximum(along_mm - along_mm[joint - 1], 0.0)
    return np.asarray((past / past[-1]) ** BENDS)
