"""High or misplaced nut: the slots together stand too high, or the nut too far from the first fret, or too near."""

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from breakangle.model.plan import Finding, Where
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.heights import straight
from breakangle.planning.estimate.diagnosis.pattern import Pattern, Seen, finding, unit_direction
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import layout_of

TOLERANCE_MM = 0.15  # above what is wanted, on the mean of all slots; common practice, no source
USUAL_MM, MET_WITH = 0.35, 0.1  # common practice, no source
# Along the neck: at 650 mm it makes every stopped note 4 cents off its open string, 1 cent for 0.37 mm [derived].
PLACE_TOLERANCE_MM = 1.5
FINGERS_MM = 0.35  # how fingers press near the nut makes up so much; common practice, no source
PLACE_USUAL_MM, PLACE_MET_WITH = 3.0, 0.05  # common practice, no source


def _causes(board: Board) -> Sequence[Cause]:
    layout = layout_of(board.string_count, board.fret_count)
    if board.instrument.nut.kind == "zero-fret":
        return ()
    full = np.flatnonzero(board.first == 0)
    return (
        Cause("high-nut", unit_direction(layout.size, layout["nut_height"][full]), USUAL_MM, MET_WITH),
        Cause(
            "high-nut",
            unit_direction(layout.size, layout["nut_setback"][full]),
            PLACE_USUAL_MM,
            PLACE_MET_WITH,
            part="place",
        ),
    )


def _found(seen: Seen) -> Iterator[Finding]:
    gaps = seen.targets_named("nut clearance")
    if len(gaps) < 2 or seen.board.instrument.nut.kind == "zero-fret":
        return
    values, rows = straight(seen.picture, gaps)
    row = rows.mean(axis=0)
    sized = seen.row(float(values.mean() - np.mean([one.mm for one in gaps])), row)
    strings = tuple(one.string for one in gaps)
    yield from finding(
        "high-nut",
        Where(strings=strings, part="nut"),
        sized,
        TOLERANCE_MM,
        sign=1,
        holds_cuts=True,
        values={"mm": sized.value},
        rests_on=partial(seen.readings_of_row, row),
    )
    for place, cause in seen.causes("high-nut"):
        if cause.part == "place":
            sized = seen.amplitude(place).and_by(FINGERS_MM)
            yield from finding(
                "high-nut",
                Where(strings=strings, part=tr("place of the nut")),
                sized,
                PLACE_TOLERANCE_MM,
                holds_cuts=True,
                key="misplaced_nut",
                values={"mm": abs(sized.value)},
                rests_on=partial(seen.readings_of_cause, place),
            )


PATTERN = Pattern("high-nut", _causes, _found)
