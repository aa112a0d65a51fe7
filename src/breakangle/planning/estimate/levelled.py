"""Crown readings after frets were levelled: which still stand, and what they would read now."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment, Reading
from breakangle.planning.kinds.adjustments.fret_level import FILED_SPREAD_MM, FretLevel
from breakangle.planning.kinds.readings.crown import GAUGE_SPREAD_MM, Crown
from breakangle.planning.kinds.registry import adjustment_kind
from breakangle.planning.state.board import Board
from breakangle.planning.state.picture import Picture

Array = NDArray[np.float64]


def metal_since_mm(board: Board, work: Sequence[Adjustment], after: int) -> Array:
    """Return what has come off every crown by work from step `after` on, mm, shape (S, F)."""
    found = np.zeros((board.string_count, board.fret_count))
    for one in work[after:]:
        if isinstance(one, FretLevel):
            found += one.metal_mm(board.string_count, board.fret_count)
    return found


def neck_moved_after(picture: Picture, work: Sequence[Adjustment]) -> int:
    """Return from which stretch on the neck has been left as it is: a line over many crowns read since then stands."""
    layout = picture.layout
    places = np.concatenate([layout["neck"], layout["twist"], layout["fall"]])
    for done in range(len(work), 0, -1):
        effect = adjustment_kind(work[done - 1]).effect(work[done - 1], picture)
        moved = effect.mean[places] - picture.mean[places]
        if np.any(moved) or np.any(np.asarray(effect.variance)[places]):
            return done
    return 0


def crowns_as_now(
    readings: Sequence[Reading], board: Board, work: Sequence[Adjustment]
) -> tuple[Reading, ...]:
    """Return the readings, those of a crown's own height less what was filed off it since, less surely."""
    if not any(isinstance(one, FretLevel) for one in work):
        return tuple(readings)
    found: list[Reading] = []
    for one in readings:
        if isinstance(one, Crown):
            off = float(metal_since_mm(board, work, one.after)[one.string - 1, one.fret - 1])
            one = _filed(one, off) if off > 0.0 else one
        found.append(one)
    return tuple(found)


def _filed(one: Crown, off_mm: float) -> Crown:
    spread_mm = float(np.hypot(one.uncertainty_mm or GAUGE_SPREAD_MM, FILED_SPREAD_MM))
    return one.model_copy(update={"mm": one.mm - off_mm, "uncertainty_mm": spread_mm})
