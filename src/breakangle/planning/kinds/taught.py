"""What many instruments taught of one not seen before: its neck's answers, how its saddles come, how rough its crowns.

Saddles are told by three figures of the state: how high they stand, how much higher at the treble edge, and how far
back, means over the strings. The state keeps what it knows beside them: only these three move, and what hangs on them.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.kinds.prior import Responses, prior_of
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import Belief, layout_of

Array = NDArray[np.float64]
CROWN_BLOCKS = ("crown", "crown_tilt", "crown_own")
SADDLE_FIGURES = 3  # height, tilt and setback; chosen
TINY = 1e-12  # chosen


@dataclass(frozen=True)
class Taught:
    """What to expect in the place of the family; what is None, or a ratio of 1, is left as the family has it.

    `responses`: how the neck answers. `saddles`: height, tilt and setback of the saddles (mm). `crown_ratio`: how far
    crowns stand out of line, over what is usual for their condition.
    """

    responses: Responses | None = None
    saddles: Responses | None = None
    crown_ratio: float = 1.0


def saddle_rows(board: Board) -> Array:
    """Return the rows over the state of height, tilt from bass to treble edge, and setback of the saddles, (3, N)."""
    layout, side = layout_of(board.string_count, board.fret_count), board.side_ratio
    rows = np.zeros((SADDLE_FIGURES, layout.size))
    rows[0, layout["saddle_height"]] = 1.0 / board.string_count
    about = side - side.mean()
    if np.any(about):
        rows[1, layout["saddle_height"]] = 2.0 * about / float(about @ about)
    rows[2, layout["saddle_setback"]] = 1.0 / board.string_count
    return rows


def saddles_in(belief: Belief, board: Board) -> Responses:
    """Return what is believed of the saddles' three figures."""
    rows = saddle_rows(board)
    return Responses(rows @ belief.mean, rows @ belief.covariance @ rows.T)


def prior_taught(board: Board, taught: Taught | None) -> Belief:
    """Return what is believed of an instrument before anything is read, after what others taught."""
    if taught is None:
        return prior_of(board)
    belief = prior_of(board, taught.responses)
    if taught.saddles is not None:
        belief = _with_saddles(belief, board, taught.saddles)
    return _with_crowns(belief, board, taught.crown_ratio)


def _with_saddles(belief: Belief, board: Board, wanted: Responses) -> Belief:
    """Return the belief whose three figures of the saddles have this mean and covariance.

    Source: a normal belief is its figures' belief and what is left given them, which stays as it is [derived].
    """
    rows = saddle_rows(board)
    told = rows @ belief.covariance @ rows.T + TINY * np.eye(len(rows))
    gain = np.linalg.solve(told, rows @ belief.covariance).T
    mean = belief.mean + gain @ (wanted.mean - rows @ belief.mean)
    covariance = belief.covariance + gain @ (wanted.covariance - told) @ gain.T
    return replace(belief, mean=mean, covariance=0.5 * (covariance + covariance.T))


def _with_crowns(belief: Belief, board: Board, ratio: float) -> Belief:
    """Return the belief whose crowns stand out of line by `ratio` times as much."""
    if ratio == 1.0:
        return belief
    layout = layout_of(board.string_count, board.fret_count)
    scale = np.ones(layout.size)
    for block in CROWN_BLOCKS:
        scale[layout[block]] = ratio
    return replace(belief, covariance=belief.covariance * np.outer(scale, scale))
