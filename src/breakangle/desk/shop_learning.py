"""What necks have taught, from the shop's own visits: this neck's responses, and its family's."""

import json

import numpy as np

from breakangle.desk.service import for_hand, some_instrument_fits
from breakangle.desk.shop_readings import service_of
from breakangle.desk.shop_visits import history
from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.planning.estimate import Estimate, estimate
from breakangle.planning.learn import recall, responses_of
from breakangle.planning.plan import plan
from breakangle.planning.prior import Responses
from breakangle.shop.lessons import Lesson, keep_lesson, lesson, lessons
from breakangle.shop.records import InstrumentRecord, Visit
from breakangle.shop.store import Shop

MOST_NECKS = 30  # of one family, those that came in last: more would add little and cost time
MOST_VISITS = 8  # of one neck: what it did before has been forgotten by drift


def earlier_services(shop: Shop, visit: Visit) -> tuple[Service, ...]:
    """Return the same instrument's earlier visits as services, oldest first, at most the last eight."""
    before = [one for one in history(shop, visit.instrument_id) if one.number < visit.number]
    return tuple(service_of(shop, one.id) for one in before[-MOST_VISITS:])


def estimate_visit(shop: Shop, visit_id: str) -> Estimate:
    """Return the most probable state of the visit's instrument now.

    It starts from what this neck's earlier visits taught and, where there are none, from the family and what
    the shop's other necks of it did.

    Raises:
        NoSuchRecordError: no such visit.
        ReadAgainError: readings that no instrument fits.
    """
    visit = shop.get(Visit, visit_id)
    service = service_of(shop, visit_id)
    others = family_lessons(shop, service.instrument.kind, besides=visit.instrument_id)
    with some_instrument_fits():
        return estimate(service, prior=recall(earlier_services(shop, visit), service, others))


def plan_visit(shop: Shop, visit_id: str, hand: str | None = None) -> Plan:
    """Return the visit's plan from all the shop knows of this neck and its family.

    Raises:
        NoSuchRecordError: no such visit.
        ReadAgainError: readings that no instrument fits.
    """
    return plan(for_hand(service_of(shop, visit_id), hand), estimate_visit(shop, visit_id))


def learned(shop: Shop, instrument_id: str) -> Responses | None:
    """Return how this neck answers, from its own visits alone; None while no adjustment has taught anything.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    record = shop.get(InstrumentRecord, instrument_id)
    with shop.reading() as connection:
        found = lesson(connection, instrument_id)
    return _from_text(found.body if found.body is not None else _learn(shop, found, record.kind))


def family_lessons(shop: Shop, kind: str, besides: str) -> tuple[Responses, ...]:
    """Return what the shop's other necks of this family have taught, each brought up to date where stale."""
    with shop.reading() as connection:
        found = lessons(connection, kind, MOST_NECKS)
    bodies = (
        one.body if one.body is not None else _learn(shop, one, kind)
        for one in found
        if one.instrument_id != besides
    )
    return tuple(one for one in map(_from_text, bodies) if one is not None)


def _learn(shop: Shop, found: Lesson, kind: str) -> str:
    """Learn from every visit of one neck, keep it, and return it as JSON; empty where it teaches nothing."""
    services = [service_of(shop, one.id) for one in history(shop, found.instrument_id)[-MOST_VISITS:]]
    body = ""
    if any(_teaches(one) for one in services):
        last = services[-1]
        now = estimate(last, prior=recall(services[:-1], last))
        responses = responses_of(now)
        body = json.dumps({"mean": responses.mean.tolist(), "covariance": responses.covariance.tolist()})
    with shop.writing() as connection:
        keep_lesson(connection, found, kind, body)
    return body


def _teaches(service: Service) -> bool:
    """Return whether some adjustment has readings before it and after it."""
    stages = {one.after for one in service.readings}
    return any(
        min(stages, default=done) < done <= max(stages, default=0) for done in range(1, len(service.work) + 1)
    )


def _from_text(body: str) -> Responses | None:
    if not body:
        return None
    told = json.loads(body)
    return Responses(np.array(told["mean"]), np.array(told["covariance"]))
