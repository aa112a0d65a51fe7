"""Heights for levelling from what was read: the state, and what every crown has of its own, known together.

The state leaves out a crown's own part where no routine figure rests on it. Here it is put back, so that crowns read by
rocker, edge, dial or groove come out as they were read, with what their readings share.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment, Reading
from breakangle.planning.buzz.contact_notes import board_notes
from breakangle.planning.buzz.culprit import relief_direction
from breakangle.planning.buzz.figures import relief_of
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.own_parts import crowns_standing, own_parts
from breakangle.planning.levelling.heights import Heights
from breakangle.planning.state.crowns import rough_share

Array = NDArray[np.float64]
RELIEF_SET_MM = 0.02  # relief set by what a feeler reads; common practice, no source


def heights_of(now: Estimate, readings: Sequence[Reading], work: Sequence[Adjustment]) -> Heights:
    """Return the heights as they are believed to be now, with the covariance of the crowns.

    Args:
        now: the estimate.
        readings: those of its service.
        work: the work between them; crowns read before frets were levelled count less what came off.
    """
    board, picture = now.board, now.picture
    strings, frets = board.string_count, board.fret_count
    standing = crowns_standing(readings, picture, work)
    own = own_parts(picture, rough_share(board, now.belief), standing, work)
    height = picture.height_mm.copy()
    height[:, 1:-1] += own.mean.reshape(strings, frets)
    every = picture.height_rows[:, 1:-1].reshape(strings * frets, -1) - own.rows
    notes = board_notes(picture)
    relief, row = relief_of(notes)
    covariance = every @ _relief_set(now.belief.covariance, row) @ every.T + own.covariance
    way = relief_direction(notes)
    bend = (picture.height_rows @ way) / max(abs(float(row @ way)), 1e-9) * np.sign(float(row @ way) or 1.0)
    return Heights(
        board.along_mm, height, bend, board.first, board.instrument.joint_fret, relief,
        0.5 * (covariance + covariance.T),
    )  # fmt: skip


def _relief_set(covariance: Array, row: Array) -> Array:
    """Return the covariance of the state once relief is set to a figure by reading it."""
    pull = covariance @ row
    return np.asarray(covariance - np.outer(pull, pull) / (float(row @ pull) + RELIEF_SET_MM**2))
