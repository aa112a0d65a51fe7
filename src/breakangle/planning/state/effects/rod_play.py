"""A rod's play in the state: how much of a turn is lost to it, what readings after turns teach, what two visits leave.

Two unknowns, in turns: the slack left before the rod tightens, and all the slack there is. Which way a rod was last
turned nobody tells before the first turn of a visit: either end is as likely, and half of the play is lost on average.
After a turn it is known: the next one the same way loses nothing, one the other way all of it. Relief read after such
turns teaches how much that is.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.neck.rod_play import ahead_after_turns, taken_up_turns
from breakangle.planning.state.layout import Belief, Layout

Array = NDArray[np.float64]
# A nut turns by so much before its rod takes hold, mean and one standard deviation: between a hair and a tenth of a
# turn, felt at the key. Common practice, no source.
PLAY_TURNS, PLAY_SPREAD_TURNS = 0.05, 0.025
EITHER_END = 0.5  # exact: two ends, either as likely


def play_belief() -> tuple[Array, Array]:
    """Return mean (2,) and covariance (2, 2) of the slack ahead and the whole play before anything was turned."""
    mean, covariance = np.zeros(2), np.zeros((2, 2))
    mean[1], covariance[1, 1] = PLAY_TURNS, PLAY_SPREAD_TURNS**2
    return _either_end(mean, covariance, 0, 1)


def _either_end(mean: Array, covariance: Array, ahead: int, play: int) -> tuple[Array, Array]:
    """Return mean and covariance with the slack ahead none or all of the play, either as likely.

    Of b w with b 0 or 1: mean w/2, variance E[w²]/2 - w²/4, and half of w's covariance with anything. [derived]
    """
    mean, covariance = mean.copy(), covariance.copy()
    whole, variance = mean[play], covariance[play, play]
    mean[ahead] = EITHER_END * whole
    covariance[ahead] = EITHER_END * covariance[play]
    covariance[:, ahead] = EITHER_END * covariance[:, play]
    covariance[ahead, ahead] = EITHER_END * (whole**2 + variance) - mean[ahead] ** 2
    return mean, covariance


def last_turned_unknown(belief: Belief, layout: Layout) -> Belief:
    """Return the belief at the beginning of a visit: the play as it was learned; anybody may have turned the rod."""
    ahead, play = layout["rod_play"].tolist()
    mean, covariance = _either_end(belief.mean, belief.covariance, ahead, play)
    return replace(belief, mean=mean, covariance=covariance)


def worked_turns(turns: float, mean: Array, layout: Layout) -> tuple[float, Array]:
    """Return how much of a turn works on the neck, in turns of its own sign, and its row over the state, (N,)."""
    ahead, play = layout["rod_play"].tolist()
    row, way = np.zeros(layout.size), float(np.sign(turns))
    lost = taken_up_turns(turns, float(mean[ahead]), float(mean[play]))
    if lost < abs(turns):
        row[ahead] = -1.0
        row[play] = 0.0 if turns > 0.0 else 1.0
    return turns - way * lost, row


def moved_ahead(turns: float, mean: Array, layout: Layout, rows: Array, after: Array) -> None:
    """Write the slack that is ahead after a turn into `after` (N,), and how it follows from the state into `rows`."""
    ahead, play = layout["rod_play"].tolist()
    after[ahead] = ahead_after_turns(turns, float(mean[ahead]), float(mean[play]))
    if taken_up_turns(turns, float(mean[ahead]), float(mean[play])) < abs(turns):
        rows[ahead] = 0.0
        rows[ahead, play] = 0.0 if turns > 0.0 else 1.0
