"""Twist: relief differs from one edge of the board to the other by more than both tolerances can hold."""

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from breakangle.model.plan import Finding, Question, Where
from breakangle.model.words.message import Message
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.heights import flat_rows, relief_gaps
from breakangle.planning.estimate.diagnosis.pattern import Pattern, Seen, Sized, finding, unit_direction
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import layout_of

Array = NDArray[np.float64]

# Both edges stand at the far ends of their tolerances; common practice, no source.
TOLERANCES_APART = 2.0
RESTING_UNDER_MM = 0.05  # relief that may be nothing as well; common practice, no source
CROWNS_APART_MM = 0.02  # crowns differ from string to string by themselves; common practice, no source
RESTING_UNKNOWN_MM = (
    0.08  # how far an edge is bent back, where its string lies on a crown; common practice, no source
)
# So likely, it is worth half a minute: nothing rests on one reading at each edge. Common practice, no source.
OPEN_FROM = 0.25
USUAL_MM, MET_WITH = 0.35, 0.15  # of relief, edge against edge; common practice, no source


def _causes(board: Board) -> Sequence[Cause]:
    if not relief_gaps(board):
        return ()
    layout = layout_of(board.string_count, board.fret_count)
    per_unit = float(flat_rows(board)[0][layout["twist"][0]])
    if abs(per_unit) < 1e-9:
        return ()
    direction = unit_direction(layout.size, layout["twist"], 1.0 / per_unit)
    return (Cause("twist", direction, USUAL_MM, MET_WITH),)


def _sized(seen: Seen) -> tuple[Sized, Array] | None:
    """Return by how much relief at the bass edge exceeds relief at the treble edge, in mm, and its row.

    An edge whose string lies on a crown counts as nothing: how far it is bent back no gauge shows.
    """
    values, rows = seen.relief
    if not len(values):
        return None
    bass, treble = np.maximum(values, 0.0)
    row = rows[0] - rows[1]
    lowest = min([values.min(), *(one.mm for own in _read(seen) for one in own)])
    unknown = RESTING_UNKNOWN_MM if lowest < RESTING_UNDER_MM else CROWNS_APART_MM
    return seen.row(float(bass - treble), row).and_by(unknown), row


def _tolerance(seen: Seen) -> float:
    return TOLERANCES_APART * seen.kin.tolerances.relief_mm


def _found(seen: Seen) -> Iterator[Finding]:
    found = _sized(seen)
    if found is None:
        return
    sized, row = found
    bass, treble = (one.string for one in relief_gaps(seen.board))
    yield from finding(
        "twist",
        Where(strings=(bass, treble), part="neck"),
        sized,
        _tolerance(seen),
        values={
            "mm": abs(sized.value),
            "more": bass if sized.value > 0.0 else treble,
            "less": treble if sized.value > 0.0 else bass,
        },
        rests_on=partial(seen.readings_of_row, row),
    )


def _tells(seen: Seen) -> Iterator[Question]:
    """Yield the question to read relief again at both edges, where it was read once and leaves twist open."""
    found = _sized(seen)
    if found is None or found[0].beyond(_tolerance(seen)) < OPEN_FROM:
        return
    read = _read(seen)
    if all(len(own) == 1 for own in read):
        yield Question(
            ask="reading",
            readings=tuple(own[0] for own in read),
            message=Message(key="diagnosis.twist_open", values={"mm": _tolerance(seen)}, about=("twist",)),
            decides=("verdict",),
            minutes=0.5,
        )


def _read(seen: Seen) -> list[list[Gap]]:
    """Return the readings of relief at the bass edge and at the treble edge."""
    gaps = [one for one in seen.evidence.readings if isinstance(one, Gap)]
    return [[one for one in gaps if _same(one, edge)] for edge in relief_gaps(seen.board)]


def _same(one: Gap, other: Gap) -> bool:
    return (one.string, one.fret, one.held) == (other.string, other.fret, other.held)


PATTERN = Pattern("twist", _causes, _found, _tells)
