"""A shop with an owner, an instrument and a visit, for sheets."""

import json
from collections.abc import Iterator
from pathlib import Path

from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import do_adjustment, take_reading
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import add_owner
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.paper_heading import set_heading
from breakangle.services.workshop.prices import add_line, set_setting
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA, later

OWNER, COMPLAINT, NOTES = "Åse Holm", "buzzes low down", "Owes us for the last time."
OWNER_WORDS = "Cleaned the switch."


def visit_with(
    shop: Shop,
    name: str = "Marram",
    owner: str = OWNER,
    complaint: str = COMPLAINT,
    owner_words: str = OWNER_WORDS,
) -> Visit:
    """Return a visit with readings, work, readings after it, and a bill."""
    data = json.loads(example_text())
    data["instrument"]["name"] = name
    data["room"] = {"temperature_c": 20.0, "humidity_percent": 47.0}
    visit = bring_in(shop, json.dumps(data).encode(), "a file", ADA).visit
    record = shop.get(InstrumentRecord, visit.instrument_id)
    shop.change(record, ADA, owner_id=add_owner(shop, ADA, owner, "0123 / secret").id)
    done = later(minutes=30)
    do_adjustment(shop, visit.id, {"adjust": "rod", "turns": 0.125}, done)
    do_adjustment(shop, visit.id, {"adjust": "rod", "turns": 0.125}, done)
    do_adjustment(shop, visit.id, {"adjust": "saddle-height", "string": 6, "mm": -0.3}, done)
    do_adjustment(shop, visit.id, {"adjust": "tune"}, done)
    for string, mm in ((6, 0.36), (1, 0.33)):
        take_reading(
            shop, visit.id, {"quantity": "gap", "string": string, "fret": 8, "held": [1, 17], "mm": mm}, done
        )
    set_setting(shop, "tax_percent", "20", ADA)
    add_line(shop, ADA, visit, "labour", "set-up", "65")
    add_line(shop, ADA, visit, "part", "strings", "12.50", "2")
    visit = shop.change(
        shop.get(Visit, visit.id), ADA, complaint=complaint, notes=NOTES, owner_words=owner_words
    )
    return move_visit(shop, visit, "handed back", later(days=1))


def headed_shop(folder: Path) -> Iterator[Shop]:
    """Yield a shop with a heading of its own, and close it."""
    made = shop_at(folder)
    headed(made)
    yield made
    made.close()


def headed(shop: Shop, name: str = "Quill & Sedge") -> None:
    """Give the shop a heading."""
    set_heading(shop, ADA, name, ("4 Mill Lane", "bench@example.org"))
