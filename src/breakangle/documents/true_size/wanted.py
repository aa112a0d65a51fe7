"""What a making job takes from an instrument's targets: action and nut clearance of every string, open and straight."""

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.physics.making.neck_angle import string_over_frets_mm
from breakangle.physics.making.nut import floor_over_crowns_mm
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.state.board import Board, board_of

Array = NDArray[np.float64]
USUAL_NUT_MM = 0.05  # clearance over the first crown where no target names one; common practice, no source


def floors_mm(service: Service, board: Board) -> Array:
    """Return how high each slot's floor stands over the line of the crowns for the clearance wanted, mm, shape (S,)."""
    found = np.zeros(board.string_count)
    wanted = {one.string: one for one in _gaps(service, board, "nut clearance")}
    for index, first in enumerate(board.first.tolist()):
        along = board.along_mm[index] - board.along_mm[index, first]
        one = wanted.get(index + 1)
        held = one.held[0] if one and one.held else min(first + 3, board.fret_count)
        clearance = one.mm if one else USUAL_NUT_MM
        found[index] = floor_over_crowns_mm(
            clearance_mm=clearance, first_mm=along[first + 1], held_mm=along[held]
        )
    return found


def over_frets_mm(service: Service, board: Board) -> Array:
    """Return how high each string stands at the saddle over its crowns' line for the action wanted, mm, shape (S,).

    The action is read with the first fret held, so the line starts at that crown; relief is left out: a straight neck.
    """
    found = np.zeros(board.string_count)
    for one in _gaps(service, board, "action"):
        along = board.along_mm[one.string - 1]
        start = along[one.held[0]] if one.held else along[board.first[one.string - 1]]
        share = (along[one.fret] - start) / (along[-1] - start)
        found[one.string - 1] = string_over_frets_mm(action_mm=one.mm, nut_mm=0.0, action_share=share)
    return found


def saddle_over_bridge_mm(
    service: Service, board: Board, airspace_bass_mm: float, airspace_treble_mm: float
) -> Array:
    """Return how high a saddle stands over the bridge under each string for the action wanted, mm, shape (S,).

    Airspace: from the bridge's top up to a straight-edge on the frets, under the outer strings, mm.
    """
    side = np.clip((1.0 - board.side_ratio) / 2.0, 0.0, 1.0)
    air = airspace_treble_mm + (airspace_bass_mm - airspace_treble_mm) * side
    # A rounded board's crowns lie lower under the outer strings; the airspace was read under those.
    edges = [board.surface_mm[0, -1], board.surface_mm[-1, -1]]
    drop = board.surface_mm[:, -1] - np.interp(side, [0.0, 1.0], edges)
    return np.asarray(air + over_frets_mm(service, board) + drop)


def board_for(service: Service) -> Board:
    """Return the board of the service's instrument as it is now."""
    return board_of(service.instrument_now(), service.reference_hz)


def _gaps(service: Service, board: Board, name: str) -> list[GapTarget]:
    wanted = targets_of(service, board).wanted
    return [one for one in wanted if isinstance(one, GapTarget) and trade_name(one) == name]
