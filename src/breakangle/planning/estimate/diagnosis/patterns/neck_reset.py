"""Neck reset: with relief as it should be, strings stand higher than the bridge can bring down.

The size is the angle by which the neck stands too far forward for the bridge where it is; what the bridge can come down
and what strings may stay high by then are its tolerance. An angle moves the strings at the bridge by itself times the
distance from the joint [derived].
"""

from collections.abc import Iterator, Sequence
from functools import partial
from math import atan, degrees, radians

import numpy as np
from numpy.typing import NDArray

from breakangle.model.plan import Finding, Where
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.heights import (
    bent,
    flat_rows,
    saddle_shares,
    together,
)
from breakangle.planning.estimate.diagnosis.pattern import Pattern, Seen, Sized, finding, unit_direction
from breakangle.planning.state.board import Board
from breakangle.planning.state.bridge_support import bridge_or_saddle
from breakangle.planning.state.layout import layout_of

Array = NDArray[np.float64]
# What a bridge can come down by where the file does not say: so much of a saddle of one piece can be cut away and still
# bends the strings, so far do ordinary screws reach; common practice, no source.
ONE_PIECE_MM, SCREWS_MM = 2.0, 3.0
# Of the actions' tolerance, brought to the bridge: what the strings stay high by less than that, with the bridge as far
# down as it comes, is the hand's, and no neck is reset for it; common practice, no source.
WORTH_A_RESET = 1.25

STANDS_OUT_MM = 0.8  # one string's saddle from the line of the others; common practice, no source
USUAL_DEGREES, MET_WITH = 0.8, 0.02  # common practice, no source


def _causes(board: Board) -> Sequence[Cause]:
    """Return the neck's angle as it shows from the neck: the bridge and the board's end over the body come up."""
    layout, instrument = layout_of(board.string_count, board.fret_count), board.instrument
    reach = instrument.scale_mm * 2.0 ** (-instrument.joint_fret / 12.0)
    direction = unit_direction(layout.size, layout["saddle_height"], radians(1.0) * reach)
    direction[layout["fall"]] = radians(1.0)
    return (Cause("neck-reset", direction, USUAL_DEGREES, MET_WITH),)


def _travel_mm(seen: Seen) -> float:
    bridge = seen.board.instrument.bridge
    if bridge.height_travel_mm is not None:
        return 0.0 - bridge.height_travel_mm[0]  # at its end that is nothing, not minus nothing
    return ONE_PIECE_MM if bridge.kind == "one-piece" else SCREWS_MM


def _may_stay_mm(seen: Seen) -> float:
    """Return the tolerance of the actions as a move of the bridge, mm: about twice what it is at the octave."""
    actions = seen.targets_named("action")
    shares = saddle_shares(seen.picture, actions)
    return float(np.mean(np.array([one.tolerance_mm for one in actions]) / shares))


def _to_lower(seen: Seen) -> tuple[Sized, Array] | None:
    """Return how far the bridge should come down with relief as it should be, in mm, and its row over the state."""
    actions, reliefs = seen.targets_named("action"), seen.relief[0]
    if not actions:
        return None
    lower_mm, rows = seen.to_lower
    if len(reliefs) and seen.targets_named("relief"):
        # Relief is set first: what it gives the action is not the bridge's to mend.
        wanted = np.mean([one.mm for one in seen.targets_named("relief")])
        more = float(reliefs.mean() - wanted)
        per_relief = rows @ bent(seen.board)
        lower_mm = lower_mm - per_relief * more
        rows = rows - per_relief[:, None] * flat_rows(seen.board)[1]
    side = seen.board.side_ratio[[one.string - 1 for one in actions]]
    shares, scatter = together(lower_mm, np.stack([np.ones(len(side)), side], axis=1), STANDS_OUT_MM)
    sized = seen.row(float(shares[0] @ lower_mm), shares[0] @ rows)
    return sized.and_by(scatter * float(np.linalg.norm(shares[0]))), shares[0] @ rows


def _found(seen: Seen) -> Iterator[Finding]:
    needed = _to_lower(seen)
    if needed is None:
        return
    mm, row = needed
    lower, travel = mm.value, _travel_mm(seen)
    if lower <= travel:
        return
    instrument = seen.board.instrument
    reach = instrument.scale_mm * 2.0 ** (-instrument.joint_fret / 12.0)
    per_mm = degrees(1.0 / reach)
    sized = Sized(degrees(atan(lower / reach)), per_mm * mm.spread)
    yield from finding(
        "neck-reset",
        Where(part=tr("neck joint")),
        sized,
        degrees(atan((travel + WORTH_A_RESET * _may_stay_mm(seen)) / reach)),
        sign=1,
        holds_cuts=True,
        severity="stop",
        unit="degrees",
        values={
            "lower": lower,
            "travel": travel,
            "mm": lower - travel,
            "degrees": sized.value,
            "part": bridge_or_saddle(instrument),
        },
        rests_on=partial(seen.readings_of_row, row),
    )


PATTERN = Pattern("neck-reset", _causes, _found)
