"""Every note the instrument can play, with the crowns beyond its stop: a state handed to contact."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.modes import Losses, Notes, Pluck
from breakangle.planning.board import Board
from breakangle.planning.picture import Picture
from breakangle.tables.strength import Playing

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
PERIOD_COUNT = 8.0
"""Periods of each note that are looked at: later touches only graze."""


@dataclass(frozen=True)
class BoardNotes:
    """Notes (N,) of one picture. Column c of the notes' crowns is fret c + 1.

    `string` is counted from 0; `stop` is the point that stops it (0 or its own nut: open). `gap_rows` (N,
    F, state): d gap / d state, zero where there is no crown beyond the stop.
    """

    picture: Picture
    string: Indices
    stop: Indices
    notes: Notes
    gap_rows: Array

    def spread_mm(self, covariance: Array) -> Array:
        """Standard uncertainty of every gap, mm, shape (N, F)."""
        variance = np.einsum("ncs,ncs->nc", self.gap_rows @ covariance, self.gap_rows)
        spread: Array = np.sqrt(np.maximum(variance, 0.0))
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
    along, height, rows = board.along_mm[string], picture.height_mm[string], picture.height_rows[string]
    each = np.arange(len(string))
    start, length = along[each, stop], along[:, -1] - along[each, stop]
    from_stop = along[:, 1:-1] - start[:, None]
    weight = np.where(beyond, from_stop / length[:, None], 0.0)
    line = (1.0 - weight) * height[each, stop][:, None] + weight * height[:, -1:]
    gap_rows = (1.0 - weight)[:, :, None] * rows[each, stop][:, None, :] + weight[:, :, None] * rows[
        :, -1:, :
    ]
    gap_rows -= rows[:, 1:-1, :]
    constants = [board.strings[index] for index in string]
    diameter = np.array([one.diameter_mm for one in board.instrument.in_order()])
    notes = Notes(
        length_mm=length,
        tension_n=np.array([one.tension_n for one in constants]),
        unit_mass_g_per_m=np.array([one.unit_mass_g_per_m for one in constants]),
        bending_stiffness_n_mm2=np.array([one.bending_stiffness_n_mm2 for one in constants]),
        diameter_mm=diameter[string],
        crown_mm=np.where(beyond, from_stop, np.nan),
        gap_mm=np.where(beyond, line - height[:, 1:-1], np.inf),
    )
    return BoardNotes(picture, string, stop, notes, np.where(beyond[:, :, None], gap_rows, 0.0))


def _stops(board: Board) -> tuple[Indices, Indices]:
    """String and stop of every note that has a crown beyond its stop."""
    pairs = [
        (string, stop)
        for string in range(board.string_count)
        for stop in range(int(board.first[string]), board.fret_count)
    ]
    both = np.array(pairs, dtype=np.intp)
    return both[:, 0], both[:, 1]


@dataclass(frozen=True, eq=False)
class _SameBoard:
    """Cache key: a board is made once per instrument, and a string's swing depends on nothing else."""

    board: Board
    picture: Picture

    def __hash__(self) -> int:
        return id(self.board)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _SameBoard) and other.board is self.board


@lru_cache(maxsize=16)
def _depths(key: _SameBoard, playing: Playing) -> Array:
    notes = board_notes(key.picture).notes
    found = reach(notes, pluck_of(playing), losses_of(playing), np.zeros(0), PERIOD_COUNT)
    return found.depth


def swing_depths(picture: Picture, playing: Playing) -> Array:
    """How far down every note swings over every crown per mm of pluck, shape (N, F), NaN: no crown.

    The exact linear motion; it does not depend on the heights, so it is worked out once per board and
    playing.
    """
    return _depths(_SameBoard(picture.board, picture), playing)
