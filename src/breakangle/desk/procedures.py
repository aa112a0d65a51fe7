"""Procedures at the desk: ours and the shop's own, and a visit's way through one, stored at every move."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from breakangle.desk.plan_left_out import PLAN_RUN
from breakangle.desk.procedure_shelf import (
    Listed,
    drop_procedure,
    facts_of,
    procedure,
    procedures,
    save_procedure,
    told,
)
from breakangle.desk.shop_readings import service_of
from breakangle.model.errors import CorrectInputError
from breakangle.procedures.model import Procedure
from breakangle.procedures.shelf import checked_facts, procedure_from
from breakangle.procedures.way import (
    Against,
    Moved,
    Seen,
    Way,
    acts_done,
    back,
    begin,
    go_to,
    leave_out,
    next_step,
    seen,
    start_timer,
    with_facts,
)
from breakangle.shop import records
from breakangle.shop.errors import EditedMeanwhileError
from breakangle.shop.stamp import Stamp
from breakangle.shop.store import Shop

__all__ = [
    "Listed",
    "RunSeen",
    "drop_procedure",
    "facts_of",
    "procedure",
    "procedures",
    "run_all",
    "run_back",
    "run_go_to",
    "run_leave_out",
    "run_next",
    "run_seen",
    "run_timer",
    "run_told",
    "runs",
    "save_procedure",
    "start_run",
    "told",
]


@dataclass(frozen=True)
class RunSeen:
    """A visit's run at one moment: its record, procedure, state, what is seen of it, what it still asks.

    `against` is what spoke against the last move, which then was not made: show it with "do it anyway".
    """

    record: records.Run
    procedure: Procedure
    way: Way
    seen: Seen
    asks: tuple[str, ...]
    against: tuple[Against, ...] = ()


def start_run(
    shop: Shop, stamp: Stamp, visit_id: str, name: str, facts: Mapping[str, str] | None = None
) -> RunSeen:
    """Begin a procedure in a visit: what its file and earlier runs tell of the instrument is known already.

    Raises:
        NoSuchRecordError: no such visit.
        CorrectInputError: no such procedure, fact or choice; or none of its steps is for this instrument.
    """
    known = facts_of(service_of(shop, visit_id).instrument_now())
    for earlier in _runs(shop, visit_id):
        known |= _way(earlier).facts
    known |= checked_facts(facts or {})
    way = begin(procedure(name, shop), known, stamp.at)
    record = shop.add(
        records.Run, stamp, visit_id=visit_id, procedure=name, body=way.model_dump_json(exclude_unset=True)
    )
    return _seen(shop, record, stamp.at)


def runs(shop: Shop, visit_id: str, at: datetime) -> tuple[RunSeen, ...]:
    """Return a visit's runs as they stand at the moment `at`, oldest first."""
    return tuple(_seen(shop, one, at) for one in _runs(shop, visit_id))


def run_seen(shop: Shop, run_id: str, at: datetime) -> RunSeen:
    """Return one run as it stands at the moment `at`.

    Raises:
        NoSuchRecordError: no such run.
    """
    return _seen(shop, shop.get(records.Run, run_id), at)


def run_next(
    shop: Shop, stamp: Stamp, run_id: str, anyway: bool = False, step_id: str | None = None
) -> RunSeen:
    """Mark the step at hand done and go on; where something speaks against it, stay and say so (`against`).

    `step_id`, here and in the moves below, is the step that the person saw: where another is at hand by now,
    because the move was sent twice or made elsewhere, nothing is moved and the run is returned as it stands.

    Raises:
        NoSuchRecordError: no such run.
        CorrectInputError: the procedure is finished.
    """
    return _moved(
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

    return _moved(shop, stamp, run_id, every, step_id)


def run_back(shop: Shop, stamp: Stamp, run_id: str, step_id: str | None = None) -> RunSeen:
    """Go one step back; that step is open again."""
    return _moved(shop, stamp, run_id, lambda of, way, before: Moved(back(of, way)), step_id)


def run_leave_out(
    shop: Shop, stamp: Stamp, run_id: str, why: str = "", step_id: str | None = None
) -> RunSeen:
    """Leave the step at hand out, and go on.

    Raises:
        CorrectInputError: the procedure is finished.
    """
    return _moved(
        shop, stamp, run_id, lambda of, way, before: Moved(leave_out(of, way, stamp.at, why)), step_id
    )


def run_go_to(shop: Shop, stamp: Stamp, run_id: str, step_id: str) -> RunSeen:
    """Go to a step of the person's choosing; it is open again.

    Raises:
        CorrectInputError: no such step for this instrument.
    """
    return _moved(shop, stamp, run_id, lambda of, way, before: Moved(go_to(of, way, step_id)))


def run_timer(shop: Shop, stamp: Stamp, run_id: str, step_id: str | None = None) -> RunSeen:
    """Start the timer of the step at hand, now.

    Raises:
        CorrectInputError: the step has no timer.
    """
    return _moved(shop, stamp, run_id, lambda of, way, before: Moved(start_timer(of, way, stamp.at)), step_id)


def run_told(shop: Shop, stamp: Stamp, run_id: str, facts: Mapping[str, str]) -> RunSeen:
    """Tell the run more of the instrument, such as {"board": "bare"}.

    Raises:
        CorrectInputError: no such fact or choice.
    """
    told = checked_facts(facts)
    return _moved(shop, stamp, run_id, lambda of, way, before: Moved(with_facts(of, way, told)))


Move = Callable[[Procedure, Way, frozenset[str]], Moved]


def _moved(shop: Shop, stamp: Stamp, run_id: str, move: Move, step_id: str | None = None) -> RunSeen:
    record = shop.get(records.Run, run_id)
    if step_id is not None:
        now = _seen(shop, record, stamp.at)
        if now.seen.step is None or now.seen.step.id != step_id:
            return now
    made = move(_procedure(shop, record.procedure), _way(record), _acts_before(shop, record))
    if not made.against:
        try:
            record = shop.change(record, stamp, body=made.way.model_dump_json(exclude_unset=True))
        except EditedMeanwhileError:
            if step_id is None:
                raise
            return run_seen(shop, run_id, stamp.at)
    return _seen(shop, record, stamp.at, made.against)


def _seen(shop: Shop, record: records.Run, at: datetime, against: tuple[Against, ...] = ()) -> RunSeen:
    of, way = _procedure(shop, record.procedure), _way(record)
    return RunSeen(
        record, of, way, seen(of, way, at, _acts_before(shop, record)), of.asks(way.facts), against
    )


def _way(record: records.Run) -> Way:
    return Way.model_validate_json(record.body)


def _runs(shop: Shop, visit_id: str) -> tuple[records.Run, ...]:
    found = shop.every(records.Run, visit_id=visit_id)
    return tuple(one for one in found if one.procedure != PLAN_RUN)


def _procedure(shop: Shop, name: str) -> Procedure:
    """Return a run's procedure; where the shop has dropped it since, as it last stood."""
    try:
        return procedure(name, shop)
    except CorrectInputError:
        gone = shop.every(records.Procedure, deleted=True, name=name)
        if not gone:
            raise
        return procedure_from(json.loads(gone[-1].body), name)


def _acts_before(shop: Shop, record: records.Run) -> frozenset[str]:
    """Return what the visit's other runs have done."""
    found: frozenset[str] = frozenset()
    for other in _runs(shop, record.visit_id):
        if other.id != record.id:
            found |= acts_done(_procedure(shop, other.procedure), _way(other))
    return found
