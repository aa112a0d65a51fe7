"""Boards with crowns out of line, their truth in the workshop's own geometry, for the levelling bench."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from bench._instruments import instrument_of
from bench.workshop.instrument import WorkshopInstrument, bend_mm
from bench.workshop.neck import U
from breakangle.planning.levelling.heights import Heights
from breakangle.reference.families import family

Array = NDArray[np.float64]
# Shares of a crown's spread: the same under all strings, and its own under each; common practice, no source.
SHARED, OWN = 0.5, 0.5**0.5 * 0.75**0.5 * 2.0**0.5
FAULTS = ("scatter", "even", "proud", "worn", "tongue")


@dataclass
class WornBoard:
    """One board: its truth, the neck's own relief in mm and what one mm of bow does to it, and what is wrong."""

    one: WorkshopInstrument
    relief_mm: float
    per_bow: float
    fault: str

    def set_bow(self, relief_mm: float) -> None:
        """Bend the neck to a relief of its own, crowns left out."""
        self.one.bow_mm += (relief_mm - self.relief_mm) / self.per_bow
        self.relief_mm = relief_mm

    def heights(self, crowns_mm: Array, covariance: Array) -> Heights:
        """Return the heights as they stand, with crowns believed to be `crowns_mm` (S, F)."""
        one = self.one
        along = np.concatenate([one.fret_x, (one.scale_mm + one.setback_mm)[:, None]], axis=1)
        board = np.array([one.board_mm(n) for n in range(1, one.count + 1)])
        height = np.concatenate([board, one.saddle_mm[:, None]], axis=1)
        height[:, 1:-1] += crowns_mm
        height[np.arange(one.count), one.first] = board[np.arange(one.count), one.first] + one.nut_mm
        ratio = np.clip(one.fret_x / one.fret_x[:, one.joint : one.joint + 1], 0.0, 1.0)
        bend = np.interp(ratio, U, one.neck.load) / self.per_bow
        bend = np.concatenate([bend, np.zeros((one.count, 1))], axis=1)
        return Heights(along, height, bend, np.array(one.first), one.joint, self.relief_mm, covariance)

    def lowest_plane_mm(self) -> Array:
        """Return what levelling every crown to the highest plane below them all takes off, mm, shape (S, F)."""
        one = self.one
        past = np.maximum(one.fret_x[:, 1:] - one.fret_x[:, one.joint : one.joint + 1], 0.0)
        rise = one.tongue_mm * (past / past[:, -1:]) ** 1.5
        error = one.crown_mm + rise
        side = np.broadcast_to(np.asarray(one.sides)[:, None], error.shape)
        rows = np.stack([np.ones(error.size), one.fret_x[:, 1:].ravel() / 100.0, side.ravel()], axis=1)
        found = linprog(-rows.sum(axis=0), A_ub=rows, b_ub=error.ravel(), bounds=(None, None), method="highs")
        return np.asarray(error - (rows @ found.x).reshape(error.shape))


def worn_board(kind: str, seed: int, action_mm: Array, nut_mm: Array, relief_mm: float) -> WornBoard:
    """Return a random board set up as given, with a fault that goes round with the seed."""
    rng = np.random.default_rng([seed, 19])
    one = WorkshopInstrument(instrument_of(family(kind), f"board {seed}"), rng)
    fault = FAULTS[seed % len(FAULTS)]
    spread = 0.012 if fault in ("even", "proud", "tongue") else 0.03
    shape = (one.count, one.frets)
    one.crown_mm = SHARED * spread * rng.standard_normal(one.frets) + OWN * spread * rng.standard_normal(
        shape
    )
    if fault == "proud":
        one.crown_mm[:, rng.integers(2, one.frets - 1)] += rng.uniform(0.05, 0.15)
    if fault == "worn":
        depth = rng.uniform(0.03, 0.12, 5) * np.linspace(1.0, 0.4, 5)
        one.crown_mm[:, :5] -= depth
    if fault == "tongue":
        one.tongue_mm = rng.uniform(0.03, 0.12) * (one.frets - one.joint) / 2.0
    one.bow_mm = 0.0
    start = bend_mm(one)
    one.bow_mm = 1.0
    per_bow = bend_mm(one) - start
    one.bow_mm = 0.0
    board = WornBoard(one, start, per_bow, fault)
    board.set_bow(relief_mm)
    one.set_ends(nut_mm, action_mm)
    return board
