"""A shop with a little of everything in it."""

from io import BytesIO

from PIL import Image

from breakangle.desk.example import example_text
from breakangle.desk.shop_attachments import attach
from breakangle.desk.shop_readings import correct, do_adjustment, take_reading
from breakangle.desk.shop_service_files import bring_in
from breakangle.desk.shop_visits import add_owner, open_visit
from breakangle.shop.records import InstrumentRecord, Visit
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
