"""Moved bridge: all saddles off together along the strings, or in a straight slope from side to side."""

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from breakangle.model.plan import Finding, Where
from breakangle.model.words.speech import tr
from breakangle.physics.string.intonation import CENTS_PER_NEPER
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.heights import together
from breakangle.planning.estimate.diagnosis.pattern import Pattern, Seen, finding, unit_direction
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.targets.intonation import IntonationTarget
from breakangle.planning.state.board import Board
from breakangle.planning.state.bridge_support import stands_loose
from breakangle.planning.state.layout import layout_of

Array = NDArray[np.float64]
# Along the strings, the mean of all, or from the middle to an edge: a bridge that stands loose, and one glued on, which
# is hardly ever off and may be compensated otherwise than usual. Common practice, no source.
LOOSE_TOLERANCE_MM, GLUED_TOLERANCE_MM = 1.0, 1.5
STANDS_OUT_MM = 1.5  # one string from the line of the others; common practice, no source
HEIGHTS_FIRST_MM = 2.0  # at the saddle, on the mean; common practice, no source
USUAL_MM, MET_WITH, MET_WITH_LOOSE = 2.5, 0.05, 0.2  # common practice, no source


def _whole(board: Board) -> bool:
    """Return whether the bridge carries all strings in one piece, so that they go with it."""
    return board.string_count > 1 and (
        board.instrument.bridge.kind == "one-piece" or stands_loose(board.instrument)
    )


def _causes(board: Board) -> Sequence[Cause]:
    layout = layout_of(board.string_count, board.fret_count)
    met = MET_WITH_LOOSE if stands_loose(board.instrument) else MET_WITH
    if not _whole(board):
        return ()
    shift = unit_direction(layout.size, layout["saddle_setback"])
    tilt = unit_direction(layout.size, layout["saddle_setback"], board.side_ratio)
    return (
        Cause("moved-bridge", shift, USUAL_MM, met, part="shift"),
        Cause("moved-bridge", tilt, USUAL_MM, met, part="tilt"),
    )


def _needs(seen: Seen) -> tuple[Array, Array] | None:
    """Return how far back each string's saddle should go for its octave to be in tune, mm (S,), and rows (S, N).

    With heights as they should be: what high strings do to intonation is not the bridge's place. None where they
    stand so far off that heights come first.
    """
    board, layout = seen.board, seen.picture.layout
    string = np.arange(board.string_count)
    fret = np.minimum(board.first + 12, board.fret_count) - 1
    cents, rows = seen.picture.cents_at(string, fret)
    actions = seen.targets_named("action")
    if len(actions) == board.string_count:
        lower_mm, lower_rows = seen.to_lower
        if abs(lower_mm.mean()) > HEIGHTS_FIRST_MM:
            return None
        per_height = rows[string, layout["saddle_height"][string]]
        cents = cents - per_height * lower_mm
        rows = rows - per_height[:, None] * lower_rows
    per_mm = rows[string, layout["saddle_setback"][string]]
    return -cents / per_mm, -rows / per_mm[:, None]


def _found(seen: Seen) -> Iterator[Finding]:
    board = seen.board
    if not _whole(board) or not _pitched(seen):
        return
    needs = _needs(seen)
    if needs is None:
        return
    need, rows = needs
    design = np.stack([np.ones(board.string_count), board.side_ratio], axis=1)
    shares, scatter = together(need, design, STANDS_OUT_MM)
    tolerance = _tolerance_mm(seen)
    for share, key in zip(shares, ("moved_bridge", "tilted_bridge"), strict=True):
        sized = seen.row(float(-share @ need), -share @ rows).and_by(scatter * float(np.linalg.norm(share)))
        yield from finding(
            "moved-bridge",
            Where(part="bridge" if key == "moved_bridge" else tr("bridge, side to side")),
            sized,
            tolerance,
            key=f"{key}_{_way(key, sized.value)}",
            values={"mm": abs(sized.value)},
            rests_on=partial(seen.readings_of_row, share @ rows),
        )


def _tolerance_mm(seen: Seen) -> float:
    """Return from where a bridge's place matters, in mm: never nearer than what intonation is held to on the octave."""
    usual = LOOSE_TOLERANCE_MM if stands_loose(seen.board.instrument) else GLUED_TOLERANCE_MM
    wanted = targets_of(seen.service, seen.board).wanted
    cents = [one.tolerance_cents for one in wanted if isinstance(one, IntonationTarget)]
    return (
        max(usual, float(np.mean(cents)) * seen.board.instrument.scale_mm / CENTS_PER_NEPER)
        if cents
        else usual
    )


def _way(key: str, value: float) -> str:
    if key == "moved_bridge":
        return "back" if value > 0.0 else "forward"
    return "treble_back" if value > 0.0 else "bass_back"


def _pitched(seen: Seen) -> bool:
    """Return whether most strings have been heard stopped: a few say nothing of the bridge."""
    heard = {one.string for one in seen.evidence.readings if one.quantity == "pitch" and one.fret}
    return 2 * len(heard) > seen.board.string_count


PATTERN = Pattern("moved-bridge", _causes, _found)
