"""Looking at any step of a way, and taking back and making again what was marked; the way is a frozen state."""

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.procedures.model import Procedure
from breakangle.procedures.way import Mark, Way


def viewed(procedure: Procedure, way: Way, step_id: str) -> Way:
    """Return the way as it is seen from another of its steps; nothing is marked or opened by it.

    Raises:
        CorrectInputError: no such step for this instrument.
    """
    ids = [one.id for one in procedure.steps_for(way.facts)]
    if step_id not in ids:
        raise CorrectInputError(
            tr("step {step_id!r}", step_id=step_id[:40]),
            tr("one of {ids}", ids=", ".join(ids)),
            tr("choose one"),
        )
    return way.model_copy(update={"place": step_id})


def marked_last(way: Way) -> dict[str, Mark]:
    """Return what was marked last: one step, or all that were marked at the same moment."""
    last = max((mark.at for mark in way.marks.values()), default=None)
    return {name: mark for name, mark in way.marks.items() if mark.at == last}


def undo_mark(procedure: Procedure, way: Way) -> Way:
    """Return the way without what was marked last, its first step at hand; nothing marked: as it is."""
    last = marked_last(way)
    if not last:
        return way
    ids = [one.id for one in procedure.steps_for(way.facts)]
    here = next((name for name in ids if name in last), way.place)
    kept = {name: mark for name, mark in way.marks.items() if name not in last}
    return way.model_copy(update={"marks": kept, "place": here, "undone": (*way.undone, last)})


def redo_mark(procedure: Procedure, way: Way) -> Way:
    """Return the way with what was taken back last marked again as it was; nothing taken back: as it is."""
    if not way.undone:
        return way
    marks = {**way.marks, **way.undone[-1]}
    ids = [one.id for one in procedure.steps_for(way.facts)]
    here = next((name for name in ids if name not in marks), None)
    return way.model_copy(update={"marks": marks, "place": here, "undone": way.undone[:-1]})
