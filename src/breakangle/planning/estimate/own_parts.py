"""What crowns have of their own beside the state, from everything that reads a crown, known together.

The state leaves out a crown's own part where no routine figure rests on it. Here it is put back, so that crowns read by
rocker, edge, dial or groove come out as they were read, with what their readings share. Readings taken before the frets
were levelled are brought down by the metal; a line over many crowns stands only while the neck is left as it is.

Source: conditioning of a joint normal distribution [derived].
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment, Reading
from breakangle.model.words.unit_said import unit_open
from breakangle.planning.estimate.levelled import metal_since_mm, neck_moved_after
from breakangle.planning.kinds.adjustments.fret_level import FILED_SPREAD_MM
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.state.crowns import OWN_SHARE, left_out_mm, scatter_of
from breakangle.planning.state.picture import Picture

Array = NDArray[np.float64]
RESEATED_MM = 0.003  # a gauge set down again; common practice, no source
OPEN_SPREADS = 2.0  # farther out than that a crown is left to its reading; common practice, no source
# A reading of which the neck's bend is less than this share is of the crowns beside each other; chosen.
NEAR_SHARE = 0.05


@dataclass(frozen=True)
class OwnParts:
    """Crowns' own parts, string by string: mean (S·F,) less `rows` (S·F, N) times the state, and covariance beside it.

    `mean` is at the state's mean; one unit more of the state takes `rows` away from it.
    """

    mean: Array
    rows: Array
    covariance: Array


@dataclass(frozen=True)
class _Read:
    """Shares of the crowns' own parts (R, S·F), rows over the state (R, N), what is off (R,), variance (R,)."""

    shares: Array
    rows: Array
    off: Array
    noise: Array


def reads_crowns(one: Reading) -> bool:
    """Return whether a reading tells how high a crown stands, in a unit that is known."""
    return reading_kind(one).reads_crowns and not unit_open(one)


def crowns_standing(
    readings: Sequence[Reading], picture: Picture, work: Sequence[Adjustment]
) -> tuple[Reading, ...]:
    """Return the readings of crowns that still stand: a line over many crowns only since the neck was last moved."""
    least = neck_moved_after(picture, work)
    neck = picture.layout["neck"]
    found = []
    for one in readings:
        if reads_crowns(one) and one.after <= len(work):
            row = reading_kind(one).predict([one], picture).rows[0] if one.after < least else None
            if row is None or float(np.max(np.abs(row[neck]))) < NEAR_SHARE:
                found.append(one)
    return tuple(found)


def own_parts(
    picture: Picture, rough_share: float, readings: Sequence[Reading], work: Sequence[Adjustment] = ()
) -> OwnParts:
    """Return what crowns have of their own beside the state, from readings of crowns that stand.

    With o ~ N(0, V), r = A x + C o + e: o given x is K (r − A x), K = V Cᵀ (C V Cᵀ + E)⁻¹; V − K C V is left [derived].
    """
    board, size = picture.board, picture.layout.size
    there = left_out_mm(board)[:, 1:-1] > 0.0
    own = OWN_SHARE * scatter_of(board).variance_mm2(rough_share)
    variance = np.where(there, own, 0.0).ravel()
    if not readings:
        return OwnParts(np.zeros(len(variance)), np.zeros((len(variance), size)), np.diag(variance))
    read = _read(picture, readings, work)
    # What stands far out is left to its reading: what is usual says nothing against it.
    beyond = np.maximum(np.abs(read.off) - OPEN_SPREADS * np.sqrt(own + read.noise), 0.0)
    far = (np.abs(read.shares) > 0.5) * beyond[:, None]
    variance = np.where(variance > 0.0, variance + far.max(axis=0) ** 2, 0.0)
    spread = read.shares * variance
    gain = np.linalg.solve(spread @ read.shares.T + np.diag(read.noise), spread).T
    left = np.diag(variance) - gain @ spread
    return OwnParts(gain @ read.off, gain @ read.rows, 0.5 * (left + left.T))


def _read(picture: Picture, readings: Sequence[Reading], work: Sequence[Adjustment]) -> _Read:
    board = picture.board
    strings, frets = board.string_count, board.fret_count
    shares, rows, off, noise = [], [], [], []
    for name in dict.fromkeys(one.quantity for one in readings):
        here = [one for one in readings if one.quantity == name]
        kind, string = reading_kind(here[0]), np.array([one.string - 1 for one in here])
        told, own = kind.predict(here, picture), kind.crown_shares(here, picture)[:, 1:-1]
        metal = np.stack([metal_since_mm(board, work, one.after)[one.string - 1] for one in here])
        wide = np.zeros((len(here), strings, frets))
        wide[np.arange(len(here)), string] = own
        shares.append(wide.reshape(len(here), strings * frets))
        rows.append(told.rows)
        values = np.array([kind.value(one, board) for one in here]) - np.sum(own * metal, axis=1)
        off.append(values - told.values)
        gauge = np.array([kind.spread(one) for one in here])
        # Of what no gauge removes, that of the crowns' own parts is counted by their shares.
        beside = told.unexplained**2 - np.sum((own * left_out_mm(board)[:, 1:-1][string]) ** 2, axis=1)
        filed = np.sum(np.square(own * FILED_SPREAD_MM) * (metal > 0.0), axis=1)
        noise.append(gauge**2 + np.maximum(beside, RESEATED_MM**2) + filed)
    return _Read(np.concatenate(shares), np.concatenate(rows), np.concatenate(off), np.concatenate(noise))
