"""Everything that can be read off one state, with its derivatives: heights, gaps, cents at every fret."""

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.neck.bend import bending_shapes
from breakangle.physics.neck.gaps import Gaps, gaps, open_clearance_mm
from breakangle.physics.string.finger import FingerStretch, finger_stretch
from breakangle.physics.string.intonation import ErrorSlopes, error_cents, error_slopes
from breakangle.planning.state.board import Board
from breakangle.planning.state.crowns import own_crown_frets
from breakangle.planning.state.layout import OWN_CROWNS, Layout, layout_of

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
FARTHEST_MM = 60.0  # behind its fret: no finger presses farther off; common practice, no source
LIGHTEST_PRESS_MM = (
    0.06  # about here a hand's press turns from less to hardly any; common practice, no source
)


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
    own = own_crown_frets(board)
    at_string, slot = np.nonzero(own)
    rows[at_string, own[at_string, slot], layout["crown_own"][at_string * OWN_CROWNS + slot]] = 1.0
    # A short string's own nut stands where that fret's crown would be.
    rows[np.ix_(strings, frets, layout["crown"])] *= (frets[None, :] != board.first[:, None])[:, :, None]
    rows[np.ix_(strings, frets, layout["crown_tilt"])] *= (frets[None, :] != board.first[:, None])[:, :, None]
    rows[strings, board.first, layout["nut_height"]] = 1.0
    rows[:, -1, :] = 0.0
    rows[strings, -1, layout["saddle_height"]] = 1.0
    return rows


@lru_cache(maxsize=64)
def _clearance_rows(board: Board) -> Array:
    """Return the rows over the state of the open string's clearance over every crown, shape (S, F, N)."""
    x, rows, strings = board.along_mm, _height_rows(board), np.arange(board.string_count)
    start = x[strings, board.first][:, None]
    weight = ((x[:, 1:-1] - start) / (x[:, -1:] - start))[:, :, None]
    nut = rows[strings, board.first][:, None]
    return np.asarray((1 - weight) * nut + weight * rows[:, -1:] - rows[:, 1:-1])


@lru_cache(maxsize=64)
def _saddle_rise_rows(board: Board) -> Array:
    """Return the rows over the state of every saddle's height above its nut, shape (S, N)."""
    rows = _height_rows(board)
    return np.asarray(rows[:, -1] - rows[np.arange(board.string_count), board.first])


def _pressed_mm(unknown_mm: float) -> tuple[float, float]:
    """Return how far below the crown the hand presses, mm, never less than nothing, and its slope by the unknown."""
    root = float(np.hypot(unknown_mm, LIGHTEST_PRESS_MM))
    return 0.5 * (unknown_mm + root), 0.5 * (1.0 + unknown_mm / root)


def _behind_mm(near_per_mm: float) -> tuple[float, float]:
    """Return how far behind the crown the finger is, mm, and its slope by the unknown, one over that.

    What it stretches goes by one over its distance: told so, belief that was gained before a saddle was moved holds
    after it, and no note read since pretends that the finger had come nearer.
    """
    if near_per_mm <= 1.0 / FARTHEST_MM:
        return FARTHEST_MM, 0.0
    return 1.0 / near_per_mm, -1.0 / near_per_mm**2


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

    @property
    def clearance_rows(self) -> Array:
        """Return d clearance / d state, shape (S, F, N)."""
        return _clearance_rows(self.board)

    def _everywhere(self) -> tuple[Indices, Indices]:
        """Return every pair of string and fret (both from 0), as two lists."""
        pairs = np.indices((self.board.string_count, self.board.fret_count)).reshape(2, -1)
        return pairs[0], pairs[1]

    @cached_property
    def stiffness_ratio(self) -> Array:
        """Return each open string's √(EI/T)/L, shape (S,)."""
        return np.asarray(self.board.stiffness_ratio * np.exp(self.mean[self.layout["log_stiffness"]]))

    @cached_property
    def _axial_ratio(self) -> Array:
        """Return each string's EA/T, shape (S,)."""
        return np.asarray(self.board.axial_ratio * np.exp(self.mean[self.layout["log_axial"]]))

    @cached_property
    def _saddle_rise_mm(self) -> Array:
        nut = self.height_mm[np.arange(self.board.string_count), self.board.first]
        return np.asarray(self.height_mm[:, -1] - nut)

    def _finger(self, string: Indices, fret: Indices) -> FingerStretch:
        """Return what the finger adds to the stretch of each stopped note."""
        near, press = self.mean[self.layout["finger"]]
        (behind, by_near), (pressed, by_press) = _behind_mm(float(near)), _pressed_mm(float(press))
        found = finger_stretch(
            open_length_mm=self.board.open_length_mm[string],
            along_behind_mm=self.board.along_behind_mm[string, fret],
            clearance_mm=np.maximum(self.clearance_mm[string, fret], 0.0),
            saddle_rise_mm=self._saddle_rise_mm[string],
            behind_mm=behind,
            press_mm=pressed,
            room_mm=self.board.finger_room_mm[string, fret],
        )
        by_behind, by_pressed = by_near * found.per_behind_mm, by_press * found.per_press_mm
        return replace(found, per_behind_mm=by_behind, per_press_mm=by_pressed)

    def _intonation_arguments(
        self, string: Indices, fret: Indices, finger: FingerStretch
    ) -> dict[str, Array | float]:
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
            "finger_stretch_ratio": finger.stretch_ratio,
        }

    def cents_at(self, string: Indices, fret: Indices) -> tuple[Array, Array]:
        """Return each stopped note from its tempered pitch in cents, the open string in tune, (R,), and rows (R, N).

        `string` and `fret` count from 0 (fret 0 is the first fret).
        """
        finger = self._finger(string, fret)
        slope: ErrorSlopes = error_slopes(**self._intonation_arguments(string, fret, finger))
        each, by_finger = np.arange(len(string)), slope.finger_stretch_cents
        by_clearance = slope.clearance_cents_per_mm + by_finger * finger.per_clearance_mm
        by_rise = slope.saddle_rise_cents_per_mm + by_finger * finger.per_saddle_rise_mm
        rows = by_clearance[:, None] * self.clearance_rows[string, fret]
        rows += by_rise[:, None] * _saddle_rise_rows(self.board)[string]
        for block, part in (
            ("saddle_setback", slope.saddle_setback_cents_per_mm),
            ("nut_setback", slope.nut_setback_cents_per_mm),
            ("log_axial", slope.log_axial_cents),
            ("log_stiffness", slope.log_stiffness_cents),
        ):
            rows[each, self.layout[block][string]] += part
        near, press = self.layout["finger"]
        rows[:, near] += by_finger * finger.per_behind_mm
        rows[:, press] += by_finger * finger.per_press_mm
        return slope.cents, np.asarray(rows)

    @cached_property
    def cents(self) -> Array:
        """Return each stopped note from its equal-tempered pitch, the open string in tune, shape (S, F)."""
        string, fret = self._everywhere()
        found = error_cents(**self._intonation_arguments(string, fret, self._finger(string, fret)))
        return np.asarray(found).reshape(self.board.string_count, self.board.fret_count)

    @cached_property
    def cents_rows(self) -> Array:
        """Return d cents / d state, shape (S, F, N)."""
        rows = self.cents_at(*self._everywhere())[1]
        return rows.reshape(self.board.string_count, self.board.fret_count, self.layout.size)


def picture_of(board: Board, mean: Array) -> Picture:
    """Return the picture of `board` in the state `mean`."""
    return Picture(board, layout_of(board.string_count, board.fret_count), mean)
