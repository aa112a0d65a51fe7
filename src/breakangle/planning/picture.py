"""Everything that can be read off one state, with its derivatives: heights, gaps, cents at every fret."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.gaps import Gaps, gaps, open_clearance_mm
from breakangle.physics.intonation import ErrorSlopes, error_cents, error_slopes
from breakangle.physics.neck import bending_shapes
from breakangle.planning.board import Board
from breakangle.planning.layout import Layout, layout_of

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
FINGER_UNIT = 1e-5


@lru_cache(maxsize=64)
def _height_rows(board: Board) -> Array:
    """Return the heights' rows over the state, shape (S, F + 2, N): heights are linear in it."""
    layout = layout_of(board.string_count, board.fret_count)
    strings, frets = np.arange(board.string_count), np.arange(1, board.fret_count + 1)
    rows = np.zeros((*board.along_mm.shape, layout.size))
    shapes = bending_shapes(board.place_ratio)
    rows[:, :, layout["neck"]] = np.moveaxis(shapes, 0, -1)
    rows[:, :, layout["twist"][0]] = shapes[0] * board.side_ratio[:, None] / 2.0
    joint_mm = board.along_mm[:, board.instrument.joint_fret][:, None]
    past = np.maximum(board.along_mm - joint_mm, 0.0)
    past[:, -1] = 0.0
    rows[:, :, layout["fall"][0]] = past
    rows[:, frets, layout["crown"]] = 1.0
    rows[:, frets, layout["crown_tilt"]] = board.side_ratio[:, None]
    # A short string's own nut stands where that fret's crown would be.
    rows[np.ix_(strings, frets, layout["crown"])] *= (frets[None, :] != board.first[:, None])[:, :, None]
    rows[np.ix_(strings, frets, layout["crown_tilt"])] *= (frets[None, :] != board.first[:, None])[:, :, None]
    rows[strings, board.first, layout["nut_height"]] = 1.0
    rows[:, -1, :] = 0.0
    rows[strings, -1, layout["saddle_height"]] = 1.0
    return rows


@dataclass(frozen=True)
class Picture:
    """The instrument in one state `mean` (N,). Values and rows: d value / d state."""

    board: Board
    layout: Layout
    mean: Array

    @cached_property
    def height_rows(self) -> Array:
        """Return d height / d state, shape (S, F + 2, N)."""
        return _height_rows(self.board)

    @cached_property
    def height_mm(self) -> Array:
        """Return the height of every nut, crown and saddle, shape (S, F + 2)."""
        return np.asarray(self.board.surface_mm + self.height_rows @ self.mean)

    def gaps_at(self, string: Indices, fret: Indices, left: Indices, right: Indices) -> Gaps:
        """Return the gaps (readings,), the string carried at `left` and `right`; string counted from 0."""
        return gaps(self.board.along_mm[string], self.height_mm[string], fret, left, right)

    def gap_rows(self, string: Indices, fret: Indices, left: Indices, right: Indices) -> Array:
        """Return d gap / d state (readings, N) of a string that is straight between `left` and `right`."""
        x = self.board.along_mm[string]
        each = np.arange(len(string))
        weight = ((x[each, fret] - x[each, left]) / (x[each, right] - x[each, left]))[:, None]
        rows = self.height_rows
        row = (1.0 - weight) * rows[string, left] + weight * rows[string, right]
        return np.asarray(row - rows[string, fret])

    @cached_property
    def clearance_mm(self) -> Array:
        """Return the open string's clearance over every crown, shape (S, F)."""
        return open_clearance_mm(self.board.along_mm, self.height_mm, self.board.first)

    def _clearance_rows_at(self, string: Indices, crown: Indices) -> Array:
        """Return d clearance / d state over crown (point) `crown` of `string`, shape (R, N)."""
        x, rows, first = self.board.along_mm, self.height_rows, self.board.first[string]
        start = x[string, first]
        weight = ((x[string, crown] - start) / (x[string, -1] - start))[:, None]
        return np.asarray(
            (1 - weight) * rows[string, first] + weight * rows[string, -1] - rows[string, crown]
        )

    @cached_property
    def clearance_rows(self) -> Array:
        """Return d clearance / d state, shape (S, F, N)."""
        string, fret = self._everywhere()
        shape = (self.board.string_count, self.board.fret_count, self.layout.size)
        return self._clearance_rows_at(string, fret + 1).reshape(shape)

    def _everywhere(self) -> tuple[Indices, Indices]:
        """Return every pair of string and fret (both from 0), as two lists."""
        pairs = np.indices((self.board.string_count, self.board.fret_count)).reshape(2, -1)
        return pairs[0], pairs[1]

    @cached_property
    def stiffness_ratio(self) -> Array:
        """Return each open string's √(EI/T)/L, shape (S,)."""
        strings = self.board.strings
        bending = np.array([one.bending_stiffness_n_mm2 for one in strings])
        ratio = np.sqrt(bending / self.board.tension_n) / self.board.open_length_mm
        return np.asarray(ratio * np.exp(self.mean[self.layout["log_stiffness"]]))

    @cached_property
    def _axial_ratio(self) -> Array:
        """Return each string's EA/T, shape (S,)."""
        axial = np.array([one.axial_stiffness_n for one in self.board.strings])
        return np.asarray(axial / self.board.tension_n * np.exp(self.mean[self.layout["log_axial"]]))

    @cached_property
    def _saddle_rise_mm(self) -> Array:
        nut = self.height_mm[np.arange(self.board.string_count), self.board.first]
        return np.asarray(self.height_mm[:, -1] - nut)

    def _intonation_arguments(self, string: Indices, fret: Indices) -> dict[str, Array | float]:
        ratio = self.board.fret_ratio[string, fret]
        return {
            "open_length_mm": self.board.open_length_mm[string],
            "fret_ratio": np.where(ratio > 1.0, ratio, np.nan),
            "clearance_mm": np.maximum(self.clearance_mm[string, fret], 0.0),
            "saddle_rise_mm": self._saddle_rise_mm[string],
            "axial_ratio": self._axial_ratio[string],
            "stiffness_ratio": self.stiffness_ratio[string],
            "saddle_setback_mm": self.mean[self.layout["saddle_setback"]][string],
            "nut_setback_mm": self.mean[self.layout["nut_setback"]][string],
            "finger_stretch_ratio": FINGER_UNIT * float(self.mean[self.layout["finger"][0]]),
        }

    def cents_at(self, string: Indices, fret: Indices) -> tuple[Array, Array]:
        """Return each stopped note from its tempered pitch in cents, the open string in tune, (R,), and rows (R, N).

        `string` and `fret` count from 0 (fret 0 is the first fret).
        """
        arguments = self._intonation_arguments(string, fret)
        slope: ErrorSlopes = error_slopes(**arguments)
        each, numbers = np.arange(len(string)), np.arange(self.board.string_count)
        rows = slope.clearance_cents_per_mm[:, None] * self._clearance_rows_at(string, fret + 1)
        rise = (self.height_rows[:, -1] - self.height_rows[numbers, self.board.first])[string]
        rows += slope.saddle_rise_cents_per_mm[:, None] * rise
        for block, part in (
            ("saddle_setback", slope.saddle_setback_cents_per_mm),
            ("nut_setback", slope.nut_setback_cents_per_mm),
            ("log_axial", slope.log_axial_cents),
            ("log_stiffness", slope.log_stiffness_cents),
        ):
            rows[each, self.layout[block][string]] += part
        rows[:, self.layout["finger"][0]] += FINGER_UNIT * slope.finger_stretch_cents
        return slope.cents, np.asarray(rows)

    @cached_property
    def cents(self) -> Array:
        """Return each stopped note from its equal-tempered pitch, the open string in tune, shape (S, F)."""
        found = error_cents(**self._intonation_arguments(*self._everywhere()))
        return np.asarray(found).reshape(self.board.string_count, self.board.fret_count)

    @cached_property
    def cents_rows(self) -> Array:
        """Return d cents / d state, shape (S, F, N)."""
        rows = self.cents_at(*self._everywhere())[1]
        return rows.reshape(self.board.string_count, self.board.fret_count, self.layout.size)


def picture_of(board: Board, mean: Array) -> Picture:
    """Return the picture of `board` in the state `mean`."""
    return Picture(board, layout_of(board.string_count, board.fret_count), mean)
