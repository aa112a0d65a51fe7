"""The lowest action that an instrument of its kind is set to by anybody: the house's, for a light hand.

How low a string may swing unheard rests on how much of a stroke goes toward the board, a calibration. Below
this, "nothing is heard" tells that buzz is not what holds the strings up, and offers no height to set.
"""

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.state.board import Board

Array = NDArray[np.float64]
LIGHTEST_HAND = "light"


def least_usual_mm(board: Board) -> Array:
    """Return the lowest usual action of every string, mm, shape (S,), string 1 first."""
    found = np.zeros(board.string_count)
    for one in house_targets(board, LIGHTEST_HAND):
        if isinstance(one, GapTarget) and trade_name(one) == "action":
            found[one.string - 1] = one.mm
    return found
