"""Instruments of several people in one shop, worked on and handed back; and everything the records hold, as text."""

import json

from sqlalchemy import select

from breakangle.services.documents.hand_back.close import Closes, close_visit, gate_of
from breakangle.services.service_files.example import example_text
from breakangle.services.visit_sheets.sheets import take_in
from breakangle.services.visits.entries import do_adjustment
from breakangle.services.visits.moves import move_visit
from breakangle.storage.records.records import Owner, Visit
from breakangle.storage.schema.tables import METADATA
from shop_fixtures.people import ADA, BO, ROD


def taken_in(shop, owner: str, **more: str) -> Visit:
    """Return a visit on the bench of an instrument of that owner, with work on it."""
    file = json.loads(example_text())
    file["instrument"] |= {"name": f"{owner}, six strings"} | more
    told, _ = take_in(shop, ADA, json.dumps(file).encode(), "a file", owner=owner, same="new")
    visit = move_visit(shop, shop.get(Visit, told.visit.id), "on the bench", BO)
    do_adjustment(shop, visit.id, ROD, BO)
    return shop.get(Visit, visit.id)


def named(shop, name: str) -> Owner:
    return next(one for one in shop.every(Owner) if one.name == name)


def rows(shop) -> list[str]:
    with shop.reading() as connection:
        return [repr(row) for table in METADATA.sorted_tables for row in connection.execute(select(table))]


def close(shop, visit: Visit, stamp) -> None:
    given = Closes({one.key: "agreed" for one in gate_of(shop, visit)}, "Ada", "a4")
    close_visit(shop, shop.get(Visit, visit.id), stamp, given)
