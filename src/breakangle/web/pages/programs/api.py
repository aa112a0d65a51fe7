"""The same service functions for programs: JSON in, JSON out, the service file's own words; described by OpenAPI."""

import json
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Body, Query
from fastapi.encoders import jsonable_encoder

from breakangle.model.words.speech import mark, tr
from breakangle.model.words.unit_said import UNANSWERED
from breakangle.services.overview.search import find, instruments_page
from breakangle.services.overview.today import today
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.service_files.plan_json import plan_object
from breakangle.services.service_files.predict import predict_service
from breakangle.services.service_files.service import plan_service
from breakangle.services.service_files.service import service_from as service_from_bytes
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.unit_answers import marked
from breakangle.services.visits.visits import visit_numbered
from breakangle.storage.records.records import Entry
from breakangle.web.dependencies import MOST_NUMBER, Number, TheShop, TheStamp, now

ERROR = {
    "description": mark("What was given cannot be right: one sentence in three parts."),
    "content": {
        "application/json": {
            "schema": {
                "type": "object",
                "required": ["error"],
                "properties": {
                    "error": {
                        "type": "object",
                        "required": ["given", "possible", "remedy"],
                        "properties": {name: {"type": "string"} for name in ("given", "possible", "remedy")},
                    }
                },
            }
        }
    },
}
ERRORS: dict[int | str, dict[str, Any]] = dict.fromkeys((400, 403, 404, 409, 413, 422, 503), ERROR)
router = APIRouter(prefix="/api", responses=ERRORS, tags=["bench"])
Noun = Annotated[dict[str, Any], Body(description="as in a service file")]
Before = Annotated[
    str | None,
    Query(max_length=80, description="entered late: the id of the entry that it was made before"),
]
Key = Annotated[
    str | None,
    Query(min_length=8, max_length=80, description="your own name for it: sent twice, stored once"),
]


@router.get("/today")
def work_today(shop: TheShop) -> dict[str, Any]:
    """Return the visits by state, what is due soon, low stock, and the last backup."""
    return _plain(today(shop, now()))


@router.get("/instruments")
def instruments(shop: TheShop, at: Annotated[int, Query(ge=1, le=MOST_NUMBER)] = 1) -> dict[str, Any]:
    """Return one page of the instruments, in the order of their names."""
    return _plain(instruments_page(shop, at))


@router.get("/search")
def search(shop: TheShop, q: Annotated[str, Query(max_length=200)]) -> list[dict[str, Any]]:
    """Return what holds every one of the words, newest first."""
    return [asdict(one) for one in find(shop, q)]


@router.get("/visits/{number}/service")
def visit_service(shop: TheShop, number: Number) -> dict[str, Any]:
    """Return the visit as a service file."""
    return _plain(service_of(shop, visit_numbered(shop, number).id))


@router.get("/visits/{number}/plan")
def visit_plan(shop: TheShop, number: Number) -> dict[str, Any]:
    """Return the visit's plan, from all the shop knows of this neck and its family."""
    return plan_object(solved_visit(shop, visit_numbered(shop, number).id).plan)


@router.get("/visits/{number}/prediction")
def visit_prediction(shop: TheShop, number: Number) -> dict[str, Any]:
    """Return gaps and cents all over the board, and the usual figures as they would read."""
    return _plain(predict_service(service_of(shop, visit_numbered(shop, number).id)))


@router.post("/visits/{number}/readings", status_code=201)
def new_reading(
    shop: TheShop, stamp: TheStamp, number: Number, reading: Noun, key: Key = None, before: Before = None
) -> dict[str, Any]:
    """Store a reading after the work done so far; it is safe once this answers.

    One that was likely meant in inches is stored with `unit_unanswered` and counts for nothing until a person says.
    """
    visit = visit_numbered(shop, number)
    entry = take_reading(
        shop, visit.id, marked(reading, service_of(shop, visit.id)), stamp, key=key, before=before
    )
    asked = json.loads(entry.body or "{}").get(UNANSWERED) is True
    return _entry(entry) | ({UNANSWERED: True} if asked else {})


@router.post("/visits/{number}/work", status_code=201)
def new_adjustment(
    shop: TheShop, stamp: TheStamp, number: Number, adjustment: Noun, key: Key = None, before: Before = None
) -> dict[str, Any]:
    """Store an adjustment that has been made."""
    visit = visit_numbered(shop, number)
    return _entry(do_adjustment(shop, visit.id, adjustment, stamp, key=key, before=before))


@router.post("/plan")
def plan_of(service: Noun) -> dict[str, Any]:
    """Return the plan of a service file that is sent along; nothing is stored."""
    return plan_object(plan_service(service_from_bytes(json.dumps(service).encode(), tr("the service"))))


@router.post("/prediction")
def prediction_of(service: Noun) -> dict[str, Any]:
    """Return the board of a service file that is sent along; nothing is stored."""
    return _plain(predict_service(service_from_bytes(json.dumps(service).encode(), tr("the service"))))


def _entry(entry: Entry) -> dict[str, Any]:
    return {"id": entry.id, "place": entry.place, "taken_at": entry.taken_at, "taken_by": entry.taken_by}


def _plain(found: Any) -> dict[str, Any]:
    told: dict[str, Any] = jsonable_encoder(found, exclude_unset=True)
    return told
