"""A visit's runs through procedures: as they stand, seen from any step, and moved; each move stored when it is made."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.procedures.marks import marked_last, viewed
from breakangle.procedures.model import Procedure
from breakangle.procedures.shelf import procedure_from
from breakangle.procedures.way import Against, Mark, Moved, Seen, Way, acts_declined, acts_done, begin, seen
from breakangle.reference.routine import orders
from breakangle.services.procedures.shelf import facts_of, procedure
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.left_out import PLAN_RUN
from breakangle.storage.records import records
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp


@dataclass(frozen=True)
class RunSeen:
    """A visit's run at one moment: its record (None: not begun), procedure, state, what is seen of it, what it asks.

    `against` is what spoke against the last move, which then was not made: show it with "do it anyway".
    """

    record: records.Run | None
    procedure: Procedure
    way: Way
    seen: Seen
    asks: tuple[str, ...]
    against: tuple[Against, ...] = ()

    @property
    def begun(self) -> records.Run:
        """Return the record of a run that has begun.

        Raises:
            CorrectInputError: it has not.
        """
        if self.record is None:
            raise CorrectInputError(
                tr('"{procedure_title}" has not been begun', procedure_title=self.procedure.title),
                "",
                tr("begin it first"),
            )
        return self.record

    @property
    def marked_last(self) -> tuple[str, ...]:
        """Return the names of the steps that were marked last, in their order."""
        last = marked_last(self.way)
        return tuple(step.id for step in self.procedure.steps if step.id in last)

    @property
    def is_declined(self) -> bool:
        """Return whether all of it was left out in this visit."""
        marks = self.way.marks.values()
        return self.seen.step is None and all(mark.state == "left out" for mark in marks)

    @property
    def neighbours(self) -> tuple[str, str]:
        """Return the names of the steps before and after the one that is shown; empty at either end."""
        ids = [one.id for one in self.procedure.steps_for(self.way.facts)]
        at = ids.index(self.seen.step.id) if self.seen.step is not None else len(ids)
        return ids[at - 1] if at > 0 else "", ids[at + 1] if at + 1 < len(ids) else ""


def runs(shop: Shop, visit_id: str, at: datetime) -> tuple[RunSeen, ...]:
    """Return a visit's runs as they stand at the moment `at`, oldest first."""
    return tuple(seen_run(shop, one, at) for one in run_records(shop, visit_id))


def run_seen(shop: Shop, run_id: str, at: datetime) -> RunSeen:
    """Return one run as it stands at the moment `at`.

    Raises:
        NoSuchRecordError: no such run.
    """
    return seen_run(shop, shop.get(records.Run, run_id), at)


def run_of(shop: Shop, visit_id: str, name: str, at: datetime) -> RunSeen:
    """Return the visit's latest run of a procedure; where it has none, what one begun now would be: nothing is stored.

    Raises:
        CorrectInputError: no such procedure; or none of its steps is for this instrument.
    """
    begun = [one for one in run_records(shop, visit_id) if one.procedure == name]
    if begun:
        return seen_run(shop, begun[-1], at)
    of = procedure(name, shop)
    way = begin(of, known_facts(shop, visit_id), at)
    before = frozenset(act for one in run_records(shop, visit_id) for act in acts_of(shop, one))
    return RunSeen(None, of, way, seen(of, way, at, before), of.asks(way.facts))


def run_looked_at(shop: Shop, run: RunSeen, step_id: str, visit_id: str, at: datetime) -> RunSeen:
    """Return a run as it is seen from another of its steps; nothing is stored.

    Raises:
        CorrectInputError: no such step for this instrument.
    """
    way = viewed(run.procedure, run.way, step_id)
    others = [one for one in run_records(shop, visit_id) if run.record is None or one.id != run.record.id]
    before = frozenset(act for other in others for act in acts_of(shop, other))
    return RunSeen(run.record, run.procedure, way, seen(run.procedure, way, at, before), run.asks)


Move = Callable[[Procedure, Way, frozenset[str]], Moved]


def moved_run(shop: Shop, stamp: Stamp, run_id: str, move: Move, step_id: str | None = None) -> RunSeen:
    """Store what `move` makes of a run, unless something speaks against it, and return the run as it then stands.

    `step_id` is the step that the person saw: where it is marked by now, nothing is moved.
    """
    record = shop.get(records.Run, run_id)
    of, way = procedure_of(shop, record.procedure), way_of(record)
    if step_id is not None:
        if step_id in way.marks or step_id not in {one.id for one in of.steps_for(way.facts)}:
            return seen_run(shop, record, stamp.at)
        way = viewed(of, way, step_id)
    made = move(of, way, acts_before(shop, record))
    if not made.against:
        try:
            record = shop.change(record, stamp, body=made.way.model_dump_json(exclude_unset=True))
        except EditedMeanwhileError:
            if step_id is None:
                raise
            return run_seen(shop, run_id, stamp.at)
    return seen_run(shop, record, stamp.at, made.against, made.way)


def seen_run(
    shop: Shop,
    record: records.Run,
    at: datetime,
    against: tuple[Against, ...] = (),
    way: Way | None = None,
) -> RunSeen:
    """Return a run as it stands at the moment `at`, or as it is seen `way`."""
    of, way = procedure_of(shop, record.procedure), way or way_of(record)
    return RunSeen(record, of, way, seen(of, way, at, acts_before(shop, record)), of.asks(way.facts), against)


def known_facts(shop: Shop, visit_id: str) -> dict[str, str]:
    """Return what the instrument's file and the visit's runs tell of it."""
    known = dict(facts_of(service_of(shop, visit_id).instrument_now()))
    for earlier in run_records(shop, visit_id):
        known |= way_of(earlier).facts
    return known


def left_before(shop: Shop, visit_id: str, name: str) -> dict[str, Mark]:
    """Return the steps of a procedure that a person left out in this visit's earlier runs of it."""
    earlier = [way_of(record) for record in run_records(shop, visit_id) if record.procedure == name]
    return {step: mark for way in earlier for step, mark in way.marks.items() if mark.state == "left out"}


def acts_of(shop: Shop, record: records.Run) -> frozenset[str]:
    """Return what the steps of a run done so far do, and what those left out would: it is not asked for again."""
    of, way = procedure_of(shop, record.procedure), way_of(record)
    grave = {order.first for order in orders() if order.always} | {
        order.then for order in orders() if order.late
    }
    harmless = acts_declined(of, way) - grave
    return acts_done(of, way) | harmless


def way_of(record: records.Run) -> Way:
    """Return the way that a run's record holds."""
    return Way.model_validate_json(record.body)


def run_records(shop: Shop, visit_id: str) -> tuple[records.Run, ...]:
    """Return the records of a visit's runs, oldest first; what it leaves out of its plan is none."""
    found = shop.every(records.Run, visit_id=visit_id)
    return tuple(one for one in found if one.procedure != PLAN_RUN)


def procedure_of(shop: Shop, name: str) -> Procedure:
    """Return a run's procedure; where the shop has dropped it since, as it last stood."""
    try:
        return procedure(name, shop)
    except CorrectInputError:
        gone = shop.every(records.Procedure, deleted=True, name=name)
        if not gone:
            raise
        return procedure_from(json.loads(gone[-1].body), name)


def acts_before(shop: Shop, record: records.Run) -> frozenset[str]:
    """Return what the visit's other runs have done."""
    found: frozenset[str] = frozenset()
    for other in run_records(shop, record.visit_id):
        if other.id != record.id:
            found |= acts_of(shop, other)
    return found
