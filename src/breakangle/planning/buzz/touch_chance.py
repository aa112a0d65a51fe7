"""How likely each note is to touch: over the states the readings leave possible, and over even and rough boards.

Crowns that nobody read stand out of line by more than the state can tell, so a note near one is never surely clear. Nor
is a note over the board's end, unless gaps were read past the joint: a straight-edge on single crowns lies still on a
smooth rise.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.buzz.contact_notes import BoardNotes
from breakangle.planning.estimate.crowns_read import own_of
from breakangle.planning.state.board_end import RISE_MET_WITH, RISE_MM, end_rise
from breakangle.planning.state.crowns import rough_share, scatter_of
from breakangle.planning.state.layout import Belief

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
SURE_SPREADS = 4.0
"""Chosen. A note is cleared by the screen only where its gaps would have to be wrong by more than this."""
DRAW_COUNT = 1000  # chosen: draws of a belief, a share known to about 1.5 in 100
# Chosen: rises of a board's end that are tried, all equally likely; and draws with a risen end, which weigh little.
RISE_COUNT, RISEN_DRAWS = 8, 250


@dataclass(frozen=True, eq=False)
class GapBelief:
    """Gaps of every note as they are believed to be, with what each crown has of its own: arrays (N, F), mm."""

    board: BoardNotes
    belief: Belief

    @cached_property
    def _own(self) -> tuple[Array, Array]:
        """Return mean and variance of each crown's own part that the state leaves out, shape (S, F + 2)."""
        mean, variance = own_of(self.board.picture.board, self.belief)
        return np.pad(mean, ((0, 0), (1, 1))), np.pad(variance, ((0, 0), (1, 1)))

    @cached_property
    def height_rows_as_read(self) -> Array:
        """Return d height / d state of every point, shape (S, F + 2, state), with what was read of each crown counted.

        A crown that was read stands where it was read, however the line under it stands: what the line is higher, its
        own part is lower. Taken as two unknowns of their own, their spread would be counted twice.
        """
        rows, known = self.board.picture.height_rows, self.belief.crowns
        if known is None or not known.own_gain.any():
            return rows
        layout, found = self.board.picture.layout, rows.copy()
        for fret in np.flatnonzero(known.own_gain.any(axis=0)):
            for block in ("crown", "crown_tilt"):
                found[:, fret + 1, layout[block][fret]] *= 1.0 - known.own_gain[:, fret]
        return found

    @cached_property
    def _gap_rows(self) -> Array:
        """Return d gap / d state, shape (N, F, state)."""
        return self.board.gap_rows_by(self.height_rows_as_read)

    @cached_property
    def _stop_share(self) -> Array:
        """Return how much of the line over each crown is the stop's, (N, F); zero where there is none."""
        share = self.board.saddle_share
        return np.where(np.isfinite(share), 1.0 - np.nan_to_num(share), 0.0)

    def _at(self, own: Array) -> tuple[Array, Array]:
        """Return own parts under every crown (N, F) and at the stop (N, 1), those of each note's string."""
        string, stop = self.board.string, self.board.stop
        return own[string][:, 1:-1], own[string, stop][:, None]

    @cached_property
    def gap_mm(self) -> Array:
        """Return the gap of every crown; infinite where there is none."""
        crown, stop = self._at(self._own[0])
        return np.asarray(self.board.notes.gap_mm + self._stop_share * stop - crown)

    @cached_property
    def spread_mm(self) -> Array:
        """Return the standard uncertainty of every gap, zero where there is no crown."""
        crown, stop = self._at(self._own[1])
        own = np.where(np.isfinite(self.board.saddle_share), crown + self._stop_share**2 * stop, 0.0)
        return np.asarray(
            np.sqrt(self.board.spread_mm(self.belief.covariance, self.height_rows_as_read) ** 2 + own)
        )

    @cached_property
    def _end(self) -> Array | None:
        """Return how much every gap closes for each mm that the board's end rises, (N, F); None where that is known."""
        rise = None if self.belief.end_read else end_rise(self.board.picture.board)
        if rise is None:
            return None
        at_stop = np.concatenate([[0.0], rise])[self.board.stop]
        closes = rise[None, :] - self._stop_share * at_stop[:, None]
        return np.where(np.isfinite(self.board.saddle_share), closes, 0.0)

    def end_chances(self, depth: Array, height: Array) -> Array:
        """Return how likely a board's end that nobody read is to make each note touch, at each height, (N, H).

        `depth` (N, F): how far each note swings down over each crown per mm of pluck, or a bound of it.
        """
        closes = self._end
        found = np.zeros((len(self.board.string), len(height)))
        if closes is None:
            return found
        from scipy.special import ndtr, ndtri

        notes = np.flatnonzero(np.any(closes > 0.0, axis=1))
        left = self.gap_mm[notes, :, None] - np.nan_to_num(depth[notes])[:, :, None] * height
        spread = np.maximum(self.spread_mm[notes], 1e-6)[:, :, None]
        for share in (np.arange(RISE_COUNT) + 0.5) / RISE_COUNT:
            rise_mm = RISE_MM * ndtri(0.5 + 0.5 * share)
            over = (rise_mm * closes[notes][:, :, None] - left) / spread
            found[notes] += ndtr(over.max(axis=1)) / RISE_COUNT
        return np.asarray(RISE_MET_WITH * found)

    @cached_property
    def _unread(self) -> Indices:
        """Return the places in the state of what crowns have that nobody read."""
        layout, known = self.board.picture.layout, self.belief.crowns
        if known is None:
            return np.concatenate([layout[name] for name in ("crown", "crown_tilt", "crown_own")])
        unread = ~known.read
        return np.concatenate([layout["crown"][unread], layout["crown_tilt"][unread]])

    @cached_property
    def _kinds(self) -> tuple[tuple[float, float], ...]:
        """Return probability and variance, over that of crowns nobody read, of an even board and of a rough one."""
        board = self.board.picture.board
        scatter, rough = scatter_of(board), rough_share(board, self.belief)
        usual = scatter.variance_mm2(rough)
        return ((1.0 - rough, scatter.even_mm**2 / usual), (rough, scatter.rough_mm**2 / usual))

    def chances(
        self, note: int, near: NDArray[np.bool_], depth: Array, height: Array, random: np.random.Generator
    ) -> Array:
        """Return how likely note number `note` is to touch one of its crowns `near`, at each height (H,).

        `depth` (F,): how far it swings down over each crown per mm of pluck.
        """
        rows = self._gap_rows[note, near]
        state = rows @ self.belief.covariance @ rows.T
        crown_rows = rows[:, self._unread]
        crowns = (crown_rows * np.diag(self.belief.covariance)[self._unread]) @ crown_rows.T
        crown, stop = self._at(self._own[1])
        share = self._stop_share[note, near]
        own = np.diag(crown[note, near]) + stop[note, 0] * np.outer(share, share)
        read = self.belief.crowns is not None and self.belief.crowns.read.any()
        found = np.zeros(len(height))
        for probability, ratio in self._kinds:
            if probability < 1.0 / DRAW_COUNT:
                continue
            covariance = state + (ratio - 1.0) * crowns + (own if read else ratio * own)
            values, vectors = np.linalg.eigh(covariance)
            scale = np.sqrt(np.maximum(values, 0.0))[:, None]
            drawn = vectors @ (random.standard_normal((len(values), DRAW_COUNT)) * scale)
            gap = self.gap_mm[note, near][:, None] + drawn
            share = np.mean((np.min(gap / depth[near][:, None], axis=0)[:, None] < height), axis=0)
            if self._end is not None:
                rise_mm = RISE_MM * np.abs(random.standard_normal(RISEN_DRAWS))
                lies = gap[:, :RISEN_DRAWS] - self._end[note, near][:, None] * rise_mm
                risen = np.mean((np.min(lies / depth[near][:, None], axis=0)[:, None] < height), axis=0)
                share = (1.0 - RISE_MET_WITH) * share + RISE_MET_WITH * risen
            found += probability * share
        return found
