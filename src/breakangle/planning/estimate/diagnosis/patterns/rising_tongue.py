"""Rising tongue: the board's end over the body rises above the line of the frets before it."""

from collections.abc import Iterator, Sequence
from functools import partial

from breakangle.model.plan import Finding, Question, Where
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.heights import crown_places_mm
from breakangle.planning.estimate.diagnosis.pattern import LISTED_FROM, Pattern, Seen, finding, unit_direction
from breakangle.planning.estimate.diagnosis.telling import asked_gaps, body_joint_frets
from breakangle.planning.kinds.prior import read_past_joint
from breakangle.planning.state.board import Board
from breakangle.planning.state.board_end import RISE_MET_WITH, RISE_MM, end_rise
from breakangle.planning.state.layout import layout_of

# Where nothing else is said below: common practice, no source.
TOLERANCE_MM = 0.15  # at the last fret; less is taken out with the frets; common practice, no source
GROSS = 2.0  # tolerances from which it decides the action, and is mended before any cut; common practice, no source


def _causes(board: Board) -> Sequence[Cause]:
    joint, last, rise = board.instrument.joint_fret, board.fret_count, end_rise(board)
    if rise is None:
        return ()
    layout = layout_of(board.string_count, board.fret_count)
    direction = unit_direction(layout.size, layout["crown"], rise)
    return (
        Cause(
            "rising-tongue",
            direction,
            RISE_MM,
            RISE_MET_WITH,
            frets=(joint, last),
            side=1,
            seen_at=frozenset(range(joint + 1, last + 1)),
        ),
    )


def _found(seen: Seen) -> Iterator[Finding]:
    joint, last = seen.board.instrument.joint_fret, seen.board.fret_count
    layout, x = seen.picture.layout, crown_places_mm(seen.board)
    for place, cause in seen.causes("rising-tongue"):
        read = read_past_joint(seen.evidence.readings, seen.board)
        there = 1.0 if read else seen.evidence.probability(place)
        if there < LISTED_FROM:
            continue
        row = unit_direction(layout.size, layout["fall"], x[-1] - x[joint - 1])
        row[layout["crown"][last - 1]] = 1.0
        sized = seen.row(float(row @ seen.picture.mean), row, there)
        yield from finding(
            "rising-tongue",
            Where(frets=cause.frets, part=tr("board over the body")),
            sized,
            TOLERANCE_MM,
            sign=1,
            holds_cuts=abs(sized.value) >= GROSS * TOLERANCE_MM,
            values={"mm": sized.value, "joint": joint, "last": last},
            rests_on=partial(seen.readings_of_row, row),
        )


def _tells(seen: Seen) -> Iterator[Question]:
    for place, cause in seen.causes("rising-tongue"):
        yield from asked_gaps(seen, place, TOLERANCE_MM, body_joint_frets(*cause.frets))


PATTERN = Pattern("rising-tongue", _causes, _found, _tells)
