"""A large shop made quickly: rows written past the services, in the form the services write them."""

import json
import random
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from sqlalchemy import insert, text

from breakangle.reference.families import family
from breakangle.services.service_files.example import usual_instrument
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import new_id
from breakangle.storage.schema.tables import COUNTER, ENTRY, FOUND, INSTRUMENT, VISIT
from shop_fixtures.people import ADA, START

READINGS_A_VISIT, VISITS_AN_INSTRUMENT, CHUNK = 20, 10, 20_000
SYLLABLES = ("ka", "lo", "mi", "ren", "sta", "tu", "vel", "os", "dra", "pin", "hu", "gar")
COMPLAINTS = ("buzzes low down", "hard to press", "yearly check", "new strings", "flat up the neck", "rattle")
MEDIUM = family("electric-guitar")


def name(chance: random.Random) -> str:
    return "".join(chance.choices(SYLLABLES, k=4))


def common(moment: Any) -> dict[str, Any]:
    made = {"created_at": moment, "changed_at": moment, "created_by": "Ada", "changed_by": "Ada"}
    return made | {"id": new_id(moment), "version": 1, "deleted_at": None}


def fill_many(shop: Shop, readings: int, seed: int = 5) -> None:
    """Put so many readings, with their visits and instruments, into an empty shop."""
    chance = random.Random(seed)
    visits = readings // READINGS_A_VISIT
    body = usual_instrument(MEDIUM, "x").model_dump(mode="json", exclude_unset=True)
    with shop.writing() as connection:
        instruments = [
            _instrument(body, number, chance) for number in range(max(visits // VISITS_AN_INSTRUMENT, 1))
        ]
        _put(connection, INSTRUMENT, iter(instruments))
        made = [_visit(instruments[n % len(instruments)], n + 1, chance) for n in range(visits)]
        _put(connection, VISIT, iter(made))
        _put(connection, ENTRY, _entries(made, chance))
        words = (
            {"record_table": "instrument", "record_id": one["id"], "words": one["name"]}
            for one in instruments
        )
        _put(connection, FOUND, words)
        words = ({"record_table": "visit", "record_id": one["id"], "words": one["complaint"]} for one in made)
        _put(connection, FOUND, words)
        connection.execute(insert(COUNTER).values(name="sheet", last=visits))
    with shop.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("ANALYZE"))


def _put(connection: Any, table: Any, rows: Iterator[dict[str, Any]]) -> None:
    chunk: list[dict[str, Any]] = []
    for row in rows:
        chunk.append(row)
        if len(chunk) == CHUNK:
            connection.execute(insert(table), chunk)
            chunk = []
    if chunk:
        connection.execute(insert(table), chunk)


def _instrument(body: dict[str, Any], number: int, chance: random.Random) -> dict[str, Any]:
    moment = START + timedelta(seconds=number)
    named = f"{name(chance)} {name(chance)}"
    kept = {"owner_id": None, "name": named, "kind": MEDIUM.kind, "body": json.dumps(body | {"name": named})}
    rest = {"targets": None, "notes": "", "playing_hours_per_week": None, "strings_changed_at": moment}
    return common(moment) | kept | rest


def _visit(instrument: dict[str, Any], number: int, chance: random.Random) -> dict[str, Any]:
    moment = START + timedelta(minutes=number)
    service = {
        "format": "breakangle/service/1",
        "instrument": json.loads(instrument["body"]),
        "room": {"temperature_c": 20.0, "humidity_percent": 45.0},
    }
    kept = {"instrument_id": instrument["id"], "number": number, "state": "handed back", "notes": ""}
    complaint = f"{chance.choice(COMPLAINTS)} {name(chance)}"
    rest = {"humidity_percent": 45.0, "temperature_c": 20.0, "opened_at": moment, "handed_back_at": moment}
    return common(moment) | kept | rest | {"body": json.dumps(service), "complaint": complaint}


def _entries(visits: list[dict[str, Any]], chance: random.Random) -> Iterator[dict[str, Any]]:
    for visit in visits:
        for place in range(1, READINGS_A_VISIT + 1):
            mm = round(chance.uniform(0.3, 2.5), 2)
            body = f'{{"quantity":"gap","string":{1 + place % 6},"fret":12,"held":[1],"mm":{mm}}}'
            yield {
                "id": new_id(visit["opened_at"]), "visit_id": visit["id"], "place": place, "kind": "reading",
                "body": body, "supersedes": None, "reason": None, "taken_at": visit["opened_at"],
                "taken_by": ADA.who, "gauge_id": None,
            }  # fmt: skip
