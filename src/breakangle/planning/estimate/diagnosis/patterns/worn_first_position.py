"""Worn first position: the first few crowns, where open chords are played, stand below the line of the others."""

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from breakangle.model.plan import Finding, Question, Where
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.pattern import Pattern, Seen, finding, unit_direction
from breakangle.planning.estimate.diagnosis.telling import asked_crowns
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import layout_of

TOLERANCE_MM = 0.05  # at the most worn crown: then the frets are levelled; common practice, no source
UNREAD_MM = 0.008  # the crowns away from where they were read; common practice, no source
USUAL_MM, MET_WITH = 0.12, 0.1  # common practice, no source
WORN_FRETS = (3, 4, 5)  # so many first frets; common practice, no source
LAST_SHARE = 0.5  # the last of them is worn half as much as the first; common practice, no source


def _causes(board: Board) -> Sequence[Cause]:
    layout = layout_of(board.string_count, board.fret_count)
    found = []
    for count in WORN_FRETS:
        if count >= board.fret_count:
            continue
        worn = -np.linspace(1.0, LAST_SHARE, count)
        direction = unit_direction(layout.size, layout["crown"][:count], worn)
        frets = tuple(range(1, count + 1))
        found.append(
            Cause("worn-first-position", direction, USUAL_MM, MET_WITH / len(WORN_FRETS), frets=frets, side=1)
        )
    return found


def _found(seen: Seen) -> Iterator[Finding]:
    every = seen.causes("worn-first-position")
    if not every:
        return
    place, cause = max(every, key=lambda one: seen.evidence.probability(one[0]))
    read = sorted(seen.crowns_read & set(range(1, WORN_FRETS[-1] + 1)))
    if len(read) > 1:
        yield from _read_by_gauge(seen, read)
        return
    sized = seen.together("worn-first-position")
    yield from finding(
        "worn-first-position",
        Where(frets=cause.frets, part="frets"),
        sized,
        TOLERANCE_MM,
        sign=1,
        values={"mm": sized.value, "last": cause.frets[-1]},
        rests_on=partial(seen.readings_of_cause, place),
    )


def _read_by_gauge(seen: Seen, read: list[int]) -> Iterator[Finding]:
    """Yield the finding as the crowns read show it: the mean of the two lowest, so that no single low fret makes it."""
    layout, mean = seen.picture.layout, seen.picture.mean
    lowest = sorted(read, key=lambda fret: mean[layout["crown"][fret - 1]])[:2]
    row = unit_direction(layout.size, layout["crown"][[fret - 1 for fret in lowest]], -0.5)
    sized = seen.row(float(row @ mean), row).and_by(UNREAD_MM)
    if -mean[layout["crown"][lowest[1] - 1]] < LAST_SHARE * TOLERANCE_MM:
        return
    # What was read to stand as high as the others is not called worn with them.
    last = max(fret for fret in read if -mean[layout["crown"][fret - 1]] >= LAST_SHARE * TOLERANCE_MM)
    yield from finding(
        "worn-first-position",
        Where(frets=tuple(fret for fret in read if fret <= last), part="frets"),
        sized,
        TOLERANCE_MM,
        sign=1,
        values={"mm": sized.value, "last": last},
        rests_on=partial(seen.readings_of_row, row),
    )


def _tells(seen: Seen) -> Iterator[Question]:
    for place, _ in seen.causes("worn-first-position")[:1]:
        yield from asked_crowns(seen, place, TOLERANCE_MM, [1, 2, 3])


PATTERN = Pattern("worn-first-position", _causes, _found, _tells)
