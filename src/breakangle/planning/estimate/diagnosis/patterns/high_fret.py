"""A high fret: one crown stands above the line of its neighbours."""

from collections.abc import Iterator, Sequence
from functools import partial

from breakangle.model.plan import Finding, Where
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.pattern import LISTED_FROM, Pattern, Seen, finding, unit_direction
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import layout_of

TOLERANCE_MM = 0.05  # a crown so much proud makes notes touch; common practice, no source
UNREAD_MM = 0.008  # the crown away from where it was read; common practice, no source
USUAL_MM, MET_WITH = 0.15, 0.15  # on one fret or another of a board; common practice, no source


def _causes(board: Board) -> Sequence[Cause]:
    layout = layout_of(board.string_count, board.fret_count)
    return [
        Cause(
            "high-fret",
            unit_direction(layout.size, layout["crown"][fret - 1]),
            USUAL_MM,
            MET_WITH / board.fret_count,
            frets=(fret,),
        )
        for fret in range(1, board.fret_count + 1)
    ]


def _found(seen: Seen) -> Iterator[Finding]:
    layout = seen.picture.layout
    for place, cause in seen.causes("high-fret"):
        fret = cause.frets[0]
        there = 1.0 if fret in seen.crowns_read else seen.evidence.probability(place)
        if there < LISTED_FROM:
            continue
        row = unit_direction(layout.size, layout["crown"][fret - 1])
        sized = seen.row(float(seen.picture.mean @ row), row, there).and_by(UNREAD_MM)
        yield from finding(
            "high-fret",
            Where(frets=(fret,), part="frets"),
            sized,
            TOLERANCE_MM,
            sign=1,
            values={"fret": fret, "mm": sized.value},
            rests_on=partial(seen.readings_of_row, row),
        )


PATTERN = Pattern("high-fret", _causes, _found)
