"""A visit solved, once for as long as nothing it rests on has changed: pages ask for it at every request.

What it rests on is its own readings and work, the neck's earlier visits and what the shop's other necks of the family
have taught. Their marks are cheap to read; the state and the plan are kept under them and solved anew when one differs.
"""

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

from breakangle.desk.buzz import playing_of
from breakangle.desk.plan_left_out import left_out
from breakangle.desk.service import for_hand, some_instrument_fits
from breakangle.desk.shop_learning import MOST_NECKS, MOST_VISITS, earlier_services, family_lessons
from breakangle.desk.shop_readings import service_of
from breakangle.model.plan import Plan
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service, Targets
from breakangle.planning.ask import read_next
from breakangle.planning.buzz import BuzzMap, buzz_map
from breakangle.planning.estimate import Estimate, estimate
from breakangle.planning.house import targets_of
from breakangle.planning.layout import Belief
from breakangle.planning.learn import recall
from breakangle.planning.plan import plan
from breakangle.planning.sight import Sight, sight_of
from breakangle.planning.try_out import Wish, as_it_is
from breakangle.shop.lessons import lessons
from breakangle.shop.marks import visit_marks
from breakangle.shop.records import InstrumentRecord, Visit
from breakangle.shop.store import Shop, one_record, records_where

LATELY_S = 1.0
MOST_KEPT = 24  # a solved state holds a few megabytes; a shop has few instruments on the bench at once
Kept = TypeVar("Kept")


@dataclass(frozen=True)
class Solved:
    """A visit as it stands: the service, and its most probable state; the plan is made when first asked for.

    `without` are the adjusters that a person leaves out of this visit's plan.
    """

    service: Service
    estimate: Estimate
    without: tuple[Adjustment, ...] = ()

    @cached_property
    def plan(self) -> Plan:
        """Return the plan for what stands.

        Raises:
            ReadAgainError: readings that no instrument fits.
        """
        with some_instrument_fits():
            return plan(self.service, self.estimate, self.without)

    @property
    def read_since_work(self) -> bool:
        """Return whether anything was read since the last of the work, so that figures do not only follow from it."""
        done = len(self.service.work)
        return not done or any(one.after == done for one in self.service.readings)

    @cached_property
    def targets(self) -> Targets:
        """Return what is wanted: the visit's own wishes, and the house's figures for the rest."""
        return targets_of(self.service, self.estimate.board)

    @cached_property
    def sight(self) -> Sight:
        """Return the targets as they stand now: value, tolerance, spread, and whether each can be judged."""
        return sight_of(self.estimate, self.targets.wanted)

    @cached_property
    def as_it_is(self) -> Wish:
        """Return the figures that Try out starts from."""
        return as_it_is(self.estimate)

    @cached_property
    def asked(self) -> Reading | None:
        """Return the one further reading that would tell most, as it is expected; None if none is worth taking."""
        return read_next(self.service, self.estimate, self.sight)

    def buzz(self, strength: str) -> BuzzMap:
        """Return the chance of a buzz of every note at `strength`: light, medium or heavy.

        Raises:
            CorrectInputError: a strength that is not known.
        """
        if strength not in self._buzz:
            played = playing_of(self.service, None)
            self._buzz[strength] = buzz_map(self.estimate.picture, self.estimate.belief, played, (strength,))
        return self._buzz[strength]

    @cached_property
    def _buzz(self) -> dict[str, BuzzMap]:
        return {}


class _Lately:
    """What was made lately, by what it was made from; the longest unused goes first."""

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, threading.Lock()
        self._found: OrderedDict[Any, Any] = OrderedDict()

    def get(self, key: Any, make: Callable[[], Kept]) -> Kept:
        """Return what was made under `key`, or make it; two who ask at once may both make it, alike."""
        with self._lock:
            if key in self._found:
                self._found.move_to_end(key)
                known: Kept = self._found[key]
                return known
        made = make()
        with self._lock:
            self._found[key] = made
            while len(self._found) > self._most:
                self._found.popitem(last=False)
        return made


_SOLVED, _BELIEVED, _LOOKED_AT = _Lately(MOST_KEPT), _Lately(MOST_KEPT), _Lately(MOST_KEPT)


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


def believed_before(shop: Shop, visit_id: str, service: Service) -> Belief:
    """Return what is believed of the visit's instrument before anything of `service`, the visit, was read.

    Raises:
        NoSuchRecordError: no such visit.
        ReadAgainError: earlier readings that no instrument fits.
    """
    return _believed(shop, _rests_on(shop, visit_id), service)


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
    with some_instrument_fits():
        return Solved(service, estimate(service, prior=before), at.without)


def _believed(shop: Shop, at: _Basis, service: Service) -> Belief:
    def make() -> Belief:
        others = family_lessons(shop, service.instrument.kind, besides=at.visit.instrument_id)
        with some_instrument_fits():
            return recall(earlier_services(shop, at.visit), service, others)

    return _BELIEVED.get(at.before, make)


def _rests_on(shop: Shop, visit_id: str) -> _Basis:
    with shop.reading() as connection:
        visit = one_record(connection, Visit, visit_id)
        kind = one_record(connection, InstrumentRecord, visit.instrument_id, deleted=True).kind
        every = records_where(connection, Visit, instrument_id=visit.instrument_id)
        before = sorted((one for one in every if one.number < visit.number), key=lambda one: one.number)
        before = before[-MOST_VISITS:]
        marks = visit_marks(connection, visit.id, *(one.id for one in before))
        taught = lessons(connection, kind, MOST_NECKS)
        without = left_out(connection, visit.id)
    earlier = tuple((one.id, one.body, marks[one.id]) for one in before)
    others = tuple(
        (one.instrument_id, one.mark) for one in taught if one.instrument_id != visit.instrument_id
    )
    basis = str(shop.folder), visit.id, visit.body, earlier, others
    return _Basis(visit, basis, marks[visit.id], without)
