"""What necks have taught, from the shop's own visits: this neck's responses, and its family's."""

import json
from collections.abc import Sequence

import numpy as np

from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.learning import recall, responses_of, teaches
from breakangle.planning.estimate.units_doubted import without_doubted, without_open
from breakangle.planning.kinds.prior import Responses
from breakangle.planning.plan import plan
from breakangle.services.service_files.service import asking, for_hand, some_instrument_fits, typed_questions
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import history
from breakangle.storage.records.lessons import Lesson, keep_lesson, lessons
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop

MOST_NECKS = 30  # of one family, those that came in last: more would add little and cost time
MOST_VISITS = 8  # of one neck: what it did before has been forgotten by drift


def earlier_services(shop: Shop, visit: Visit) -> tuple[Service, ...]:
    """Return the same instrument's earlier visits as services, oldest first, at most the last eight."""
    before = [
        one
        for one in history(shop, visit.instrument_id)
        if (one.opened_at, one.number) < (visit.opened_at, visit.number)
    ]
    return tuple(without_open(service_of(shop, one.id)) for one in before[-MOST_VISITS:])


def plan_visit(shop: Shop, visit_id: str, hand: str | None = None) -> Plan:
    """Return the visit's plan from all the shop knows of this neck and its family.

    Raises:
        NoSuchRecordError: no such visit.
        ReadAgainError: readings that no instrument fits.
    """
    visit = shop.get(Visit, visit_id)
    service = for_hand(service_of(shop, visit_id), hand)
    others = family_lessons(shop, service.instrument.kind, besides=visit.instrument_id)
    with some_instrument_fits():
        before = recall(earlier_services(shop, visit), service, others)
        questions = typed_questions(service, before)
        kept = without_doubted(service, questions)
        return asking(plan(kept, estimate(kept, prior=before)), questions, kept)


def learned(shop: Shop, instrument_id: str) -> Responses | None:
    """Return how this neck answers, from its own visits alone; None while no adjustment has taught anything.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    record = shop.get(InstrumentRecord, instrument_id)
    return _from_text(_taught(shop, history(shop, record.id)))


def family_lessons(shop: Shop, kind: str, besides: str) -> tuple[Responses, ...]:
    """Return what the shop's other necks of this family taught in visits that are over, each brought up to date."""
    with shop.reading() as connection:
        found = lessons(connection, kind, MOST_NECKS)
    bodies = (
        one.body if one.body is not None else _learn(shop, one, kind)
        for one in found
        if one.instrument_id != besides
    )
    return tuple(one for one in map(_from_text, bodies) if one is not None)


def _learn(shop: Shop, found: Lesson, kind: str) -> str:
    """Learn from the visits of one neck that are over, keep it, and return it as JSON."""
    over = [visit for visit in history(shop, found.instrument_id) if visit.handed_back_at is not None]
    body = _taught(shop, over)
    with shop.writing() as connection:
        keep_lesson(connection, found, kind, body)
    return body


def _taught(shop: Shop, visits: Sequence[Visit]) -> str:
    """Return as JSON what visits of one neck, oldest first, teach of it; empty where they teach nothing."""
    services = [service_of(shop, visit.id) for visit in visits[-MOST_VISITS:]]
    body = ""
    if any(teaches(service) for service in services):
        last = services[-1]
        now = estimate(last, prior=recall(services[:-1], last))
        responses = responses_of(now)
        body = json.dumps({"mean": responses.mean.tolist(), "covariance": responses.covariance.tolist()})
    return body


def _from_text(body: str) -> Responses | None:
    if not body:
        return None
    told = json.loads(body)
    return Responses(np.array(told["mean"]), np.array(told["covariance"]))
