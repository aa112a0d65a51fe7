"""Readings of crowns against other crowns: which of them each takes part in, and with what share.

A rocker, a straight-edge and a dial all read one crown from a line over others, so each is a sum of heights with shares
that come to nothing; what a crown has of its own that the state leaves out enters by the same shares.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading
from breakangle.planning.kinds.kind import Prediction
from breakangle.planning.state.board import Board
from breakangle.planning.state.crowns import left_out_mm
from breakangle.planning.state.picture import Picture

Array = NDArray[np.float64]
Indices = NDArray[np.intp]


def line_shares(picture: Picture, string: Indices, fret: Indices, left: Indices, right: Indices) -> Array:
    """Return the share of every point of its string in each reading, shape (R, F + 2).

    The reading is the height of `fret` over the straight line from the crown `left` to the crown `right`.
    """
    x, each = picture.board.along_mm[string], np.arange(len(string))
    weight = (x[each, fret] - x[each, left]) / (x[each, right] - x[each, left])
    found = np.zeros(x.shape)
    found[each, fret] += 1.0
    found[each, left] -= 1.0 - weight
    found[each, right] -= weight
    return found


def own_shares(readings: Sequence[object], picture: Picture, share: float) -> Array:
    """Return `share` at the crown of each reading and nothing elsewhere, shape (R, F + 2)."""
    found = np.zeros((len(readings), picture.board.fret_count + 2))
    found[np.arange(len(readings)), [one.fret for one in readings]] = share  # type: ignore[attr-defined]
    return found


def predicted(picture: Picture, string: Indices, shares: Array, unexplained_mm: float) -> Prediction:
    """Return what readings with these shares of their strings' heights should show, mm."""
    rows = np.einsum("rp,rpn->rn", shares, picture.height_rows[string])
    values = np.einsum("rp,rp->r", shares, picture.height_mm[string])
    left_out = np.sqrt(np.sum((shares * left_out_mm(picture.board)[string]) ** 2, axis=1))
    return Prediction(values, rows, np.hypot(unexplained_mm, left_out), left_out)


def ends_of(readings: Sequence[object], picture: Picture) -> tuple[Indices, Indices, Indices, Indices]:
    """Return string (from 0), fret, first and last crown under each reading's string, (R,) each."""
    string = np.array([one.string - 1 for one in readings], dtype=np.intp)  # type: ignore[attr-defined]
    fret = np.array([one.fret for one in readings], dtype=np.intp)  # type: ignore[attr-defined]
    first = picture.board.first[string] + 1
    return string, fret, first, np.full(len(string), picture.board.fret_count, dtype=np.intp)


def mm_of(reading: Reading, board: Board) -> float:
    """Return what a reading reads, in mm."""
    del board
    return float(reading.mm)  # type: ignore[attr-defined]


def shown_either_way(reading: Reading, value: float, spread: float) -> Reading:
    """Return the reading as a gauge that goes below nothing would show `value`, mm."""
    update = {"mm": round(value, 3), "uncertainty_mm": round(max(spread, 0.001), 3), "after": 0}
    return reading.model_copy(update=update)


def shown_from_nothing(reading: Reading, value: float, spread: float) -> Reading:
    """Return the reading as a gauge that shows nothing less than nothing would show `value`, mm."""
    return shown_either_way(reading, max(value, 0.0), spread)
