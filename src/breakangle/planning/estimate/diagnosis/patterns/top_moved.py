"""Top or head moved: all saddles have sunk or risen together, against the visit before or what is usual."""

from collections.abc import Iterator, Sequence
from functools import partial

from breakangle.model.plan import Finding, Where
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.pattern import Pattern, Seen, finding, unit_direction
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import layout_of
from breakangle.reference.families import family_of

# At the bridge: the top of a good instrument breathes nearly so much by season; common practice, no source.
TOLERANCE_MM = 0.4
USUAL_MM, MET_WITH = 1.0, 0.08  # common practice, no source


def _moves(board: Board) -> bool:
    """Return whether the bridge stands on a top or a head that can move."""
    return board.instrument.bridge.kind == "one-piece"


def _causes(board: Board) -> Sequence[Cause]:
    if not _moves(board):
        return ()
    layout = layout_of(board.string_count, board.fret_count)
    return (Cause("top-moved", unit_direction(layout.size, layout["saddle_height"]), USUAL_MM, MET_WITH),)


def _found(seen: Seen) -> Iterator[Finding]:
    head = family_of(seen.board.instrument).bridge.on_head
    for place, _ in seen.causes("top-moved"):
        sized = seen.amplitude(place)
        way = "risen" if sized.value > 0.0 else "sunk"
        yield from finding(
            "head-moved" if head else "top-moved",
            Where(part="head" if head else "top"),
            sized,
            TOLERANCE_MM,
            holds_cuts=True,
            severity="stop",
            key=f"{'head' if head else 'top'}_{way}",
            values={"mm": abs(sized.value)},
            rests_on=partial(seen.readings_of_cause, place),
        )


PATTERN = Pattern("top-moved", _causes, _found)
