"""Procedures: ours and the shop's own, and a visit's way through one, stored at every move."""

from collections.abc import Callable, Mapping

from breakangle.model.words.speech import mark, tr
from breakangle.procedures.marks import redo_mark, undo_mark
from breakangle.procedures.model import Procedure
from breakangle.procedures.shelf import checked_facts
from breakangle.procedures.way import (
    Moved,
    Way,
    back,
    begin,
    go_to,
    leave_out,
    next_step,
    start_timer,
    with_facts,
    without,
)
from breakangle.services.procedures.runs import (
    RunSeen,
    known_facts,
    left_before,
    moved_run,
    run_looked_at,
    run_of,
    run_seen,
    runs,
    seen_run,
)
from breakangle.services.procedures.shelf import (
    Listed,
    drop_procedure,
    facts_of,
    procedure,
    procedures,
    save_procedure,
    told,
)
from breakangle.storage.records import records
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

__all__ = [
    "Listed",
    "RunSeen",
    "drop_procedure",
    "facts_of",
    "procedure",
    "procedures",
    "run_all",
    "run_back",
    "run_decline",
    "run_go_to",
    "run_leave_out",
    "run_looked_at",
    "run_next",
    "run_of",
    "run_redo",
    "run_seen",
    "run_timer",
    "run_told",
    "run_undo",
    "run_whole",
    "runs",
    "save_procedure",
    "start_run",
    "told",
]
DECLINED = mark("not in this visit")  # why steps were left out, where a whole procedure was


def start_run(
    shop: Shop, stamp: Stamp, visit_id: str, name: str, facts: Mapping[str, str] | None = None
) -> RunSeen:
    """Begin a procedure in a visit: what its file and earlier runs tell of the instrument is known already.

    Raises:
        NoSuchRecordError: no such visit.
        CorrectInputError: no such procedure, fact or choice; or none of its steps is for this instrument.
    """
    of = procedure(name, shop)
    way = begin(of, known_facts(shop, visit_id) | checked_facts(facts or {}), stamp.at)
    way = without(of, way, left_before(shop, visit_id, name))
    record = shop.add(
        records.Run, stamp, visit_id=visit_id, procedure=name, body=way.model_dump_json(exclude_unset=True)
    )
    return seen_run(shop, record, stamp.at)


def run_next(
    shop: Shop, stamp: Stamp, run_id: str, anyway: bool = False, step_id: str | None = None
) -> RunSeen:
    """Mark the step at hand done and go on; where something speaks against it, stay and say so (`against`).

    `step_id`, here and in the moves below, is the step that the person saw, at hand or not: where it is marked by
    now, because the move was sent twice or made elsewhere, nothing is moved and the run is returned as it stands.

    Raises:
        NoSuchRecordError: no such run.
        CorrectInputError: the procedure is finished.
    """
    return moved_run(
        shop, stamp, run_id, lambda of, way, before: next_step(of, way, stamp.at, anyway, before), step_id
    )


def run_all(shop: Shop, stamp: Stamp, run_id: str, step_id: str | None = None) -> RunSeen:
    """Mark every step still open done, in their order: for what was done the usual way, away from the screen.

    Raises:
        NoSuchRecordError: no such run.
        CorrectInputError: the procedure is finished.
    """

    def every(of: Procedure, way: Way, before: frozenset[str]) -> Moved:
        made = next_step(of, way, stamp.at, True, before)
        while made.way.place is not None:
            made = next_step(of, made.way, stamp.at, True, before)
        return made

    return moved_run(shop, stamp, run_id, every, step_id)


def run_whole(shop: Shop, stamp: Stamp, visit_id: str, name: str) -> None:
    """Mark every open step of a visit's procedure done, begun now if it was not; what is finished stays so.

    Raises:
        CorrectInputError: no such procedure, or none of its steps is for this instrument.
    """
    run = run_of(shop, visit_id, name, stamp.at)
    if run.record is None:
        run = start_run(shop, stamp, visit_id, name)
    if run.seen.step is not None:
        run_all(shop, stamp, run.begun.id, run.seen.step.id)


def run_back(shop: Shop, stamp: Stamp, run_id: str, step_id: str | None = None) -> RunSeen:
    """Go one step back; that step is open again."""
    return moved_run(shop, stamp, run_id, lambda of, way, before: Moved(back(of, way)), step_id)


def run_leave_out(
    shop: Shop, stamp: Stamp, run_id: str, why: str = "", step_id: str | None = None
) -> RunSeen:
    """Leave the step at hand out, and go on.

    Raises:
        CorrectInputError: the procedure is finished.
    """
    return moved_run(
        shop, stamp, run_id, lambda of, way, before: Moved(leave_out(of, way, stamp.at, why)), step_id
    )


def run_decline(shop: Shop, stamp: Stamp, run_id: str, step_id: str | None = None) -> RunSeen:
    """Leave every step still open out: the procedure is not for this visit, and is not asked for again in it.

    Raises:
        CorrectInputError: the procedure is finished.
    """

    def none(of: Procedure, way: Way, before: frozenset[str]) -> Moved:
        del before
        while way.place is not None:
            way = leave_out(of, way, stamp.at, tr(DECLINED))
        return Moved(way)

    return moved_run(shop, stamp, run_id, none, step_id)


def run_go_to(shop: Shop, stamp: Stamp, run_id: str, step_id: str) -> RunSeen:
    """Go to a step of the person's choosing; it is open again.

    Raises:
        CorrectInputError: no such step for this instrument.
    """
    return moved_run(shop, stamp, run_id, lambda of, way, before: Moved(go_to(of, way, step_id)))


def run_timer(shop: Shop, stamp: Stamp, run_id: str, step_id: str | None = None) -> RunSeen:
    """Start the timer of the step at hand, now.

    Raises:
        CorrectInputError: the step has no timer.
    """
    return moved_run(
        shop, stamp, run_id, lambda of, way, before: Moved(start_timer(of, way, stamp.at)), step_id
    )


def run_told(shop: Shop, stamp: Stamp, run_id: str, facts: Mapping[str, str]) -> RunSeen:
    """Tell the run more of the instrument, such as {"board": "bare"}.

    Raises:
        CorrectInputError: no such fact or choice.
    """
    told = checked_facts(facts)
    return moved_run(shop, stamp, run_id, lambda of, way, before: Moved(with_facts(of, way, told)))


def run_undo(shop: Shop, stamp: Stamp, run_id: str, step_id: str | None = None) -> RunSeen:
    """Take back what was marked last: one step, or all that were marked at once.

    `step_id` is the first of what the person saw marked last: where something else is by now, nothing is taken back.
    """
    return _taken_back(shop, stamp, run_id, undo_mark, lambda run: run.marked_last[:1], step_id)


def run_redo(shop: Shop, stamp: Stamp, run_id: str, step_id: str | None = None) -> RunSeen:
    """Mark again what was taken back last, as it was; `step_id` is one of its steps that the person saw."""
    return _taken_back(
        shop,
        stamp,
        run_id,
        redo_mark,
        lambda run: tuple(run.way.undone[-1]) if run.way.undone else (),
        step_id,
    )


def _taken_back(
    shop: Shop,
    stamp: Stamp,
    run_id: str,
    made: Callable[[Procedure, Way], Way],
    of: Callable[[RunSeen], tuple[str, ...]],
    step_id: str | None,
) -> RunSeen:
    now = run_seen(shop, run_id, stamp.at)
    if step_id is not None and step_id not in of(now):
        return now
    return moved_run(shop, stamp, run_id, lambda procedure, way, before: Moved(made(procedure, way)))
