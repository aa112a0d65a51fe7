"""A shop with a little of everything in it."""

from io import BytesIO

from PIL import Image

from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import correct, do_adjustment, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import add_owner, open_visit
from breakangle.services.workshop.attachments import attach
from breakangle.storage.records.records import InstrumentRecord, Visit
from shop_fixtures.people import ADA, BO, GAP, ROD, later


def picture() -> bytes:
    out = BytesIO()
    Image.new("RGB", (800, 500), (120, 60, 20)).save(out, "PNG")
    return out.getvalue()


def fill(shop) -> Visit:
    """Put a little of everything into the shop."""
    owner = add_owner(shop, ADA, "Åse Holm", "ase@example.org")
    shop.change(owner, BO, notes="pays late")
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    entry = take_reading(shop, visit.id, GAP, ADA)
    correct(shop, entry.id, GAP | {"mm": 1.7}, "misread", BO)
    do_adjustment(shop, visit.id, ROD, BO)
    attach(shop, ADA, visit, "photograph", "front.png", picture())
    attach(shop, ADA, visit, "recording", "low e.wav", b"RIFF not much of a recording")
    open_visit(shop, later(days=90), shop.every(InstrumentRecord)[0], "buzzes")
    return visit
