"""Every note the instrument can play, with the crowns beyond its stop: a state handed to contact."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.modes import Losses, Notes, Pluck
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import Layout
from breakangle.planning.state.picture import Picture, picture_of
from breakangle.reference.behaviour import behaviour
from breakangle.reference.strength import Playing

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
# Chosen: how the computation goes, nothing of an instrument.
PERIOD_COUNT = 8.0
"""Periods of each note that are looked at: later touches only graze."""

NEIGHBOURS = 2  # chosen: crowns on either side that one is held against


@dataclass(frozen=True, eq=False)
class BoardNotes:
    """Notes (N,) of one picture. Column c of the notes' crowns is fret c + 1.

    `string` is counted from 0; `stop` is the point that stops it (0 or its own nut: open). `saddle_share` (N, F): how
    much of the line over a crown is the saddle's, the rest being the stop's; NaN where no crown is beyond the stop.
    """

    picture: Picture
    string: Indices
    stop: Indices
    notes: Notes
    saddle_share: Array

    @cached_property
    def gap_rows(self) -> Array:
        """Return d gap / d state, shape (N, F, state), zero where there is no crown beyond the stop."""
        return self.gap_rows_by(self.picture.height_rows)

    @cached_property
    def out_of_line_mm(self) -> Array:
        """Return how far each crown stands above the middle one of its neighbours, two on either side, mm, (S, F)."""
        layout, state = self.picture.layout, self.picture.mean
        side = self.picture.board.side_ratio[:, None]
        crown = state[layout["crown"]] + side * state[layout["crown_tilt"]]
        beside = np.pad(crown, ((0, 0), (NEIGHBOURS, NEIGHBOURS)), constant_values=np.nan)
        around = sliding_window_view(beside, 2 * NEIGHBOURS + 1, axis=1)
        return crown - np.nanmedian(np.delete(around, NEIGHBOURS, axis=2), axis=2)

    def gap_rows_by(self, height_rows: Array) -> Array:
        """Return d gap / d state, (N, F, state), where d height / d state of every point is `height_rows`."""
        rows = height_rows[self.string]
        at_stop = rows[np.arange(len(self.string)), self.stop][:, None, :]
        share = np.nan_to_num(self.saddle_share)[:, :, None]
        found = (1.0 - share) * at_stop + share * rows[:, -1:, :] - rows[:, 1:-1, :]
        return np.where(np.isfinite(self.saddle_share)[:, :, None], found, 0.0)

    def spread_mm(self, covariance: Array, height_rows: Array | None = None) -> Array:
        """Return the standard uncertainty of every gap, mm, shape (N, F), zero where there is no crown.

        A gap is its line's height at stop and saddle less the crown's, so the covariance of the heights of each
        string's points is enough: no row of the whole state for each gap. `height_rows`: d height / d state of every
        point, where it is not the picture's.
        """
        rows = self.picture.height_rows if height_rows is None else height_rows
        heights = (rows @ covariance @ rows.transpose(0, 2, 1))[self.string]
        each, at_saddle = np.arange(len(self.string)), heights.shape[1] - 1
        own, with_stop = heights[each, self.stop, self.stop][:, None], heights[each, self.stop]
        share = np.nan_to_num(self.saddle_share)
        rest = 1.0 - share
        variance = (
            rest**2 * own
            + share**2 * heights[:, at_saddle, at_saddle][:, None]
            + np.diagonal(heights, axis1=1, axis2=2)[:, 1:-1]
            + 2.0 * rest * share * with_stop[:, at_saddle][:, None]
            - 2.0 * rest * with_stop[:, 1:-1]
            - 2.0 * share * heights[:, at_saddle, 1:-1]
        )
        spread: Array = np.where(np.isfinite(self.saddle_share), np.sqrt(np.maximum(variance, 0.0)), 0.0)
        return spread


def pluck_of(playing: Playing) -> Pluck:
    """Where and which way this playing lets a string go."""
    return Pluck(playing.strengths.pluck_from_saddle_mm, playing.strengths.release == "away")


def losses_of(playing: Playing) -> Losses:
    """The string's losses as contact takes them."""
    found = playing.losses
    return Losses(
        found.air_viscosity_pa_s,
        found.air_density_kg_per_m3,
        found.bending_loss_ratio,
        found.other_loss_ratio,
    )


def board_notes(picture: Picture) -> BoardNotes:
    """Every string at every stop that has a crown beyond it, open strings included.

    The string between stop and saddle is taken straight: a gap below zero tells that it lies on a crown.
    """
    board = picture.board
    string, stop = _stops(board)
    crown = np.arange(1, board.fret_count + 1)
    beyond = crown[None, :] > stop[:, None]
    along, height = board.along_mm[string], picture.height_mm[string]
    each = np.arange(len(string))
    start, length = along[each, stop], along[:, -1] - along[each, stop]
    from_stop = along[:, 1:-1] - start[:, None]
    weight = np.where(beyond, from_stop / length[:, None], 0.0)
    line = (1.0 - weight) * height[each, stop][:, None] + weight * height[:, -1:]
    constants = [board.strings[index] for index in string]
    diameter = np.array([one.diameter_mm for one in board.instrument.in_order()])
    makes = [behaviour(one.make) for one in board.instrument.in_order()]
    notes = Notes(
        length_mm=length,
        tension_n=np.array([one.tension_n for one in constants]),
        unit_mass_g_per_m=np.array([one.unit_mass_g_per_m for one in constants]),
        bending_stiffness_n_mm2=np.array([one.bending_stiffness_n_mm2 for one in constants]),
        diameter_mm=diameter[string],
        crown_mm=np.where(beyond, from_stop, np.nan),
        gap_mm=np.where(beyond, line - height[:, 1:-1], np.inf),
        bending_loss_ratio=np.array([one.bending_loss_ratio for one in makes])[string],
        other_loss_ratio=np.array([one.other_loss_ratio for one in makes])[string],
    )
    return BoardNotes(picture, string, stop, notes, np.where(beyond, weight, np.nan))


def _stops(board: Board) -> tuple[Indices, Indices]:
    """String and stop of every note that has a crown beyond its stop."""
    pairs = [
        (string, stop)
        for string in range(board.string_count)
        for stop in range(int(board.first[string]), board.fret_count)
    ]
    both = np.array(pairs, dtype=np.intp)
    return both[:, 0], both[:, 1]


def quiet_depths(board: Board, playing: Playing) -> Array:
    """Gap that every crown needs per mm of pluck for nothing to be heard, shape (N, F), NaN: no crown.

    Less than the swing by what a string may go below a crown unheard; never below zero, which would lie on it.
    """
    return _quiet(playing, swing_depths(board, playing))


def unheard_need(playing: Playing, height_mm: float, depth: Array, gap_mm: Array) -> Array:
    """Gap, mm, that each crown lacks not to be heard; `depth` of the swing there per mm of a pluck `height_mm` high."""
    return height_mm * _quiet(playing, depth) - gap_mm


def _quiet(playing: Playing, depth: Array) -> Array:
    return np.asarray(np.maximum(depth - playing.classes.heard_from_depth_ratio, 0.0))


@lru_cache(maxsize=16)
def swing_depths(board: Board, playing: Playing) -> Array:
    """How far down every note swings over every crown per mm of pluck, shape (N, F), NaN: no crown.

    The exact linear motion; it does not depend on the heights, so it is worked out once per board and
    playing, in the state that is all zeros.
    """
    level = picture_of(board, np.zeros(Layout(board.string_count, board.fret_count).size))
    found = reach(board_notes(level).notes, pluck_of(playing), losses_of(playing), np.zeros(0), PERIOD_COUNT)
    return found.depth
