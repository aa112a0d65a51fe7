"""A visit solved, once for as long as nothing it rests on has changed: pages ask for it at every request.

What it rests on is its own readings and work, the neck's earlier visits and what the shop's other necks of the family
have taught. Their marks are cheap to read; the state and the plan are kept under them and solved anew when one differs.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any
from weakref import WeakKeyDictionary

from breakangle.model.plan import Plan, Question
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service, Targets
from breakangle.planning.buzz.buzz_map import BuzzMap, buzz_map
from breakangle.planning.buzz.try_out import Wish, as_it_is
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.learning import recall
from breakangle.planning.estimate.target_state import Sight, sight_of
from breakangle.planning.estimate.units_doubted import without_doubted
from breakangle.planning.explain.body import with_heard_pulls
from breakangle.planning.explain.next_reading import read_next
from breakangle.planning.state.effects.body import carried_by_body
from breakangle.planning.state.layout import Belief
from breakangle.planning.verdict.crowns import with_crowns_as_read
from breakangle.planning.verdict.judgement import Judgement, judgement_of
from breakangle.services.history.learning import MOST_NECKS, MOST_VISITS, earlier_services, family_lessons
from breakangle.services.plans.apart import made_plan
from breakangle.services.service_files.buzz import playing_of
from breakangle.services.service_files.service import asking, for_hand, some_instrument_fits, typed_questions
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.left_out import left_out
from breakangle.services.workers.once import Lately, Once
from breakangle.services.workers.queue import PLANS
from breakangle.storage.connection.changes import RECORDS, changes
from breakangle.storage.records.lessons import Lesson, lessons
from breakangle.storage.records.marks import visit_marks
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop, Writing, one_record, records_where

LATELY_S = 1.0
MOST_KEPT = 24  # a solved state holds a few megabytes; a shop has few instruments on the bench at once


@dataclass(frozen=True)
class Solved:
    """A visit as it stands: the service, and its most probable state; the plan is made when first asked for.

    `without` are the adjusters that a person leaves out of this visit's plan; `prior` what was believed before it;
    `questions` are about figures whose unit is doubted: `service` is without them.
    """

    service: Service
    estimate: Estimate
    without: tuple[Adjustment, ...] = ()
    prior: Belief | None = None
    questions: tuple[Question, ...] = ()

    @Once
    def plan(self) -> Plan:
        """Return the plan for what stands.

        Raises:
            ReadAgainError: readings that no instrument fits.
        """
        with some_instrument_fits():
            made = made_plan(self.service, self.estimate, self.without, self.prior)
            return asking(made, self.questions, self.service)

    @Once
    def judgement(self) -> Judgement:
        """Return what is wrong and what may be said of it, with the plan's verdict; every page speaks from this.

        Raises:
            ReadAgainError: readings that no instrument fits.
        """
        return judgement_of(self.service, self.estimate, self.plan, playing_of(self.service, None))

    @property
    def read_since_work(self) -> bool:
        """Return whether anything was read since the last of the work, so that figures do not only follow from it."""
        done = len(self.service.work)
        return not done or any(one.after == done for one in self.service.readings)

    @Once
    def targets(self) -> Targets:
        """Return what is wanted: the visit's own wishes, and the house's figures for the rest."""
        return targets_of(self.service, self.estimate.board)

    @Once
    def sight(self) -> Sight:
        """Return the targets as they stand now: value, tolerance, spread, and whether each can be judged."""
        return sight_of(self.estimate, self.targets.wanted)

    @Once
    def as_it_is(self) -> Wish:
        """Return the figures that Try out starts from."""
        return as_it_is(self.estimate)

    @Once
    def asked(self) -> Reading | None:
        """Return the one further reading that would tell most, as it is expected; None if none is worth taking."""
        return read_next(self.service, self.estimate, self.sight)

    def buzz(self, strength: str) -> BuzzMap:
        """Return the chance of a buzz of every note at `strength`: light, medium or heavy.

        Raises:
            CorrectInputError: a strength that is not known.
        """
        if strength not in self._buzz:
            with PLANS.turn():
                played = playing_of(self.service, None)
                picture = with_crowns_as_read(self.service, self.estimate)
                self._buzz[strength] = buzz_map(
                    picture, self.estimate.for_chances.belief, played, (strength,)
                )
        return self._buzz[strength]

    @cached_property
    def _buzz(self) -> dict[str, BuzzMap]:
        return {}


@dataclass(frozen=True)
class Expecting:
    """What is believed of a visit's instrument before it is read, under the marks of all that rests on."""

    marks: tuple[Any, ...]
    belief: Belief

    def after(self, service: Service) -> Estimate:
        """Return the state after the readings and work of `service`; looked up where it was worked out lately.

        What stood before a box was filled is what is expected of it, and was worked out for the page.

        Raises:
            ReadAgainError: readings that no instrument fits.
        """
        told = service.model_dump_json(include={"instrument", "reference_hz", "readings", "work"})
        return _ESTIMATED.at_once((self.marks, told), lambda: _estimated(service, self.belief))


def _estimated(service: Service, belief: Belief) -> Estimate:
    with some_instrument_fits():
        return estimate(service, prior=belief)


_LESSONS = WeakKeyDictionary[Shop, dict[str, tuple[int, tuple[Lesson, ...]]]]()
_SOLVED, _BELIEVED, _LOOKED_AT, _HEARD, _ESTIMATED = (Lately(MOST_KEPT) for _ in range(5))


def solved_visit(shop: Shop, visit_id: str, hand: str | None = None) -> Solved:
    """Return the visit solved as it stands now, from all the shop knows of this neck and its family.

    Args:
        shop: the shop.
        visit_id: the visit.
        hand: `light`, `medium` or `heavy`, for the house's targets for another hand than the visit's.

    Raises:
        NoSuchRecordError: no such visit.
        CorrectInputError: no such hand.
        ReadAgainError: readings that no instrument fits.
    """
    at = _rests_on(shop, visit_id)
    return _SOLVED.get((at.key, hand), lambda: _solve(shop, at, hand))


def solved_lately(shop: Shop, visit_id: str, clock: Callable[[], float] = time.monotonic) -> Solved:
    """Return the visit as `solved_visit` does, or did so short a while ago that a hand is still moving.

    A control that is dragged asks many times a second, and asks properly when it rests.

    Raises:
        NoSuchRecordError, ReadAgainError: as `solved_visit`.
    """
    while_ago = int(clock() / LATELY_S)
    return _LOOKED_AT.get((str(shop.folder), visit_id, while_ago), lambda: solved_visit(shop, visit_id))


def expecting(shop: Shop, visit_id: str, service: Service) -> Expecting:
    """Return what is believed of the visit's instrument before anything of `service`, the visit, was read.

    Raises:
        NoSuchRecordError: no such visit.
        ReadAgainError: earlier readings that no instrument fits.
    """
    at = _rests_on(shop, visit_id)
    return Expecting(at.before, _believed(shop, at, service))


def asked_of_typed(shop: Shop, visit_id: str) -> tuple[Question, ...]:
    """Return what is asked about the figures and words of a visit as they were typed; empty where nothing is.

    Raises:
        NoSuchRecordError: no such visit.
        ReadAgainError: earlier readings that no instrument fits.
    """
    service = service_of(shop, visit_id)
    return typed_questions(service, expecting(shop, visit_id, service).belief)


@dataclass(frozen=True)
class _Basis:
    """What a solution rests on: marks of all that is believed before the visit is read, and of the visit's own."""

    visit: Visit
    before: tuple[Any, ...]
    own: str
    without: tuple[Adjustment, ...]

    @property
    def key(self) -> tuple[Any, ...]:
        """Return it as a key; nouns are not hashed, their text is."""
        return self.before, self.own, tuple(one.model_dump_json() for one in self.without)


def _solve(shop: Shop, at: _Basis, hand: str | None) -> Solved:
    service = for_hand(service_of(shop, at.visit.id), hand)
    before = _believed(shop, at, service)
    if carried_by_body(service.instrument):
        earlier = _HEARD.get(at.before, lambda: earlier_services(shop, at.visit))
        service = with_heard_pulls(service, earlier)
    questions = typed_questions(service, before)
    kept = without_doubted(service, questions)
    return Solved(kept, Expecting(at.before, before).after(kept), at.without, before, questions)


def _believed(shop: Shop, at: _Basis, service: Service) -> Belief:
    def make() -> Belief:
        others = family_lessons(shop, service.instrument.kind, besides=at.visit.instrument_id)
        with some_instrument_fits():
            return recall(earlier_services(shop, at.visit), service, others)

    return _BELIEVED.get(at.before, make)


def _family(connection: Writing, shop: Shop, kind: str) -> tuple[Lesson, ...]:
    """Return what marks the lessons of a family; looked up once for as long as no record has changed."""
    count = changes(connection)[RECORDS]
    kept = _LESSONS.setdefault(shop, {})
    known = kept.get(kind)
    if known is None or known[0] != count:
        kept[kind] = known = count, lessons(connection, kind, MOST_NECKS)
    return known[1]


def _rests_on(shop: Shop, visit_id: str) -> _Basis:
    with shop.reading() as connection:
        visit = one_record(connection, Visit, visit_id)
        kind = one_record(connection, InstrumentRecord, visit.instrument_id, deleted=True).kind
        every = records_where(connection, Visit, instrument_id=visit.instrument_id)
        now = (visit.opened_at, visit.number)
        former = (one for one in every if (one.opened_at, one.number) < now)
        before = sorted(former, key=lambda one: (one.opened_at, one.number))
        before = before[-MOST_VISITS:]
        marks = visit_marks(connection, visit.id, *(one.id for one in before))
        taught = _family(connection, shop, kind)
        without = left_out(connection, visit.id)
    earlier = tuple((one.id, one.body, marks[one.id]) for one in before)
    others = tuple(
        (one.instrument_id, one.mark) for one in taught if one.instrument_id != visit.instrument_id
    )
    basis = str(shop.folder), visit.id, visit.body, earlier, others
    return _Basis(visit, basis, marks[visit.id], without)
