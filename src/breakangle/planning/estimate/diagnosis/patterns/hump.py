"""Hump: the frets around the body joint stand above the line of those on either side."""

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from breakangle.model.plan import Finding, Question, Where
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.heights import crown_places_mm
from breakangle.planning.estimate.diagnosis.pattern import Pattern, Seen, finding, unit_direction
from breakangle.planning.estimate.diagnosis.telling import asked_gaps, body_joint_frets
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import layout_of

TOLERANCE_MM = 0.08  # at its top; less goes with a levelling of the frets; common practice, no source
GROSS = 2.0  # tolerances from which it decides the action, and is mended before any cut; common practice, no source
USUAL_MM, MET_WITH = 0.2, 0.06  # common practice, no source
REACHES_MM = (14.0, 22.0)  # how wide it may be, one standard deviation of a bell; common practice, no source


def _causes(board: Board) -> Sequence[Cause]:
    joint = board.instrument.joint_fret
    layout, x = layout_of(board.string_count, board.fret_count), crown_places_mm(board)
    past = frozenset(range(joint + 1, board.fret_count + 1))
    found = []
    for reach in REACHES_MM:
        bell = np.exp(-0.5 * ((x - x[joint - 1]) / reach) ** 2)
        direction = unit_direction(layout.size, layout["crown"], bell)
        found.append(
            Cause(
                "hump",
                direction,
                USUAL_MM,
                MET_WITH / len(REACHES_MM),
                frets=(joint,),
                side=1,
                seen_at=past,
            )
        )
    return found


def _found(seen: Seen) -> Iterator[Finding]:
    likeliest = max(seen.causes("hump"), key=lambda one: seen.evidence.probability(one[0]), default=None)
    if likeliest is None:
        return
    place, cause = likeliest
    sized = seen.together("hump")
    yield from finding(
        "hump",
        Where(frets=cause.frets, part=tr("body joint")),
        sized,
        TOLERANCE_MM,
        sign=1,
        holds_cuts=abs(sized.value) >= GROSS * TOLERANCE_MM,
        values={"mm": sized.value, "joint": cause.frets[0]},
        rests_on=partial(seen.readings_of_cause, place),
    )


def _tells(seen: Seen) -> Iterator[Question]:
    for place, cause in seen.causes("hump")[:1]:
        frets = body_joint_frets(cause.frets[0], seen.board.fret_count)
        yield from asked_gaps(seen, place, TOLERANCE_MM, frets)


PATTERN = Pattern("hump", _causes, _found, _tells)
