"""Heights for levelling from what was read: the state, and what every crown has of its own, known together.

The state leaves out a crown's own part where no routine figure rests on it. Here it is put back, so that crowns read by
rocker, edge, dial or groove come out as they were read, with what their readings share.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading
from breakangle.model.words.unit_said import unit_open
from breakangle.planning.buzz.contact_notes import board_notes
from breakangle.planning.buzz.culprit import relief_direction
from breakangle.planning.buzz.lowest import relief_of
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.levelling.heights import Heights
from breakangle.planning.state.crowns import OWN_SHARE, left_out_mm, rough_share, scatter_of

Array = NDArray[np.float64]
RESEATED_MM = 0.003  # a gauge set down again; common practice, no source
RELIEF_SET_MM = 0.02  # relief set by what a feeler reads; common practice, no source
OPEN_SPREADS = 2.0  # farther out than that a crown is left to its reading; common practice, no source


def heights_of(now: Estimate, readings: Sequence[Reading], work_count: int) -> Heights:
    """Return the heights as they are believed to be now, with the covariance of the crowns.

    Args:
        now: the estimate.
        readings: those of its service; the crowns read since the last work count.
        work_count: how many adjustments the service has.
    """
    board, picture = now.board, now.picture
    strings, frets = board.string_count, board.fret_count
    crowns = [one for one in readings if one.after == work_count and _tells_crowns(one)]
    mean, rows, left = _own_parts(now, crowns)
    height = picture.height_mm.copy()
    height[:, 1:-1] += mean.reshape(strings, frets)
    every = picture.height_rows[:, 1:-1].reshape(strings * frets, -1) - rows
    notes = board_notes(picture)
    relief, row = relief_of(notes)
    covariance = every @ _relief_set(now.belief.covariance, row) @ every.T + left
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


def _tells_crowns(one: Reading) -> bool:
    return reading_kind(one).reads_crowns and not unit_open(one)


def _own_parts(now: Estimate, readings: Sequence[Reading]) -> tuple[Array, Array, Array]:
    """Return mean (S·F,) of what crowns have of their own, its rows over the state (S·F, N), and covariance beside it.

    With o ~ N(0, V), r = A x + C o + e: o given x is K (r − A x), K = V Cᵀ (C V Cᵀ + E)⁻¹; V − K C V is left [derived].
    """
    board, size = now.board, len(now.belief.mean)
    strings, frets = board.string_count, board.fret_count
    there = left_out_mm(board)[:, 1:-1] > 0.0
    own = OWN_SHARE * scatter_of(board).variance_mm2(rough_share(board, now.belief))
    variance = np.where(there, own, 0.0).ravel()
    if not readings:
        return np.zeros(strings * frets), np.zeros((strings * frets, size)), np.diag(variance)
    shares, rows, off, noise = _read(now, readings)
    # What stands far out is left to its reading: what is usual says nothing against it.
    far = (np.abs(shares) > 0.5) * np.maximum(np.abs(off) - OPEN_SPREADS * np.sqrt(own + noise), 0.0)[:, None]
    variance = np.where(variance > 0.0, variance + far.max(axis=0) ** 2, 0.0)
    spread = shares * variance
    gain = np.linalg.solve(spread @ shares.T + np.diag(noise), spread).T
    left = np.diag(variance) - gain @ spread
    return gain @ off, gain @ rows, 0.5 * (left + left.T)


def _read(now: Estimate, readings: Sequence[Reading]) -> tuple[Array, Array, Array, Array]:
    """Return shares of the crowns' own parts (R, S·F), rows over the state (R, N), what is off (R,), variance (R,)."""
    board, picture = now.board, now.picture
    strings, frets = board.string_count, board.fret_count
    shares, rows, off, noise = [], [], [], []
    for name in dict.fromkeys(one.quantity for one in readings):
        here = [one for one in readings if one.quantity == name]
        kind = reading_kind(here[0])
        told = kind.predict(here, picture)
        own = kind.crown_shares(here, picture)[:, 1:-1]
        wide = np.zeros((len(here), strings, frets))
        wide[np.arange(len(here)), [one.string - 1 for one in here]] = own
        shares.append(wide.reshape(len(here), strings * frets))
        rows.append(told.rows)
        off.append(np.array([kind.value(one, board) for one in here]) - told.values)
        gauge = np.array([kind.spread(one) for one in here])
        # Of what no gauge removes, that of the crowns' own parts is counted by their shares.
        beside = told.unexplained**2 - np.sum(
            (own * left_out_mm(board)[:, 1:-1][_strings(here)]) ** 2, axis=1
        )
        noise.append(gauge**2 + np.maximum(beside, RESEATED_MM**2))
    return np.concatenate(shares), np.concatenate(rows), np.concatenate(off), np.concatenate(noise)


def _strings(readings: Sequence[Reading]) -> list[int]:
    return [one.string - 1 for one in readings]
