"""A person erased leaves other people's photographs, words, dates and figures where they are."""

import json

import pytest

from breakangle.services.documents.hand_back.frozen import last_closing, stored_sheet
from breakangle.services.documents.hand_back.photographs import choose_photographs
from breakangle.services.records.erase import erase_person
from breakangle.services.visits.visits import add_owner, open_visit
from breakangle.services.workshop.attachments import attach
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.prices import add_line
from breakangle.storage.backup.erased_words import GONE, ErasedWords, leads_to_one
from breakangle.storage.records.records import Attachment, InstrumentRecord, Line, Owner, Visit
from shop_fixtures.filled import picture
from shop_fixtures.owners import close, named, rows, taken_in
from shop_fixtures.people import ADA, later

HERS = "Åse Quillfeather"


@pytest.fixture
def shop(tmp_path):
    made = shop_at(tmp_path / "shop")
    yield made
    made.close()


def drawn(shop, visit: Visit) -> int:
    """Return how many pictures of at least a kilobyte the visit's sheet holds."""
    page = stored_sheet(shop, last_closing(shop, visit), "html").decode()
    return sum(len(part.split('"', 1)[0]) > 1000 for part in page.split("data:image/svg+xml;base64,")[1:])


def with_photograph(shop, visit: Visit, name: str, content: bytes) -> None:
    photograph = attach(shop, ADA, visit, "photograph", name, content)
    choose_photographs(shop, visit, {photograph.id: ("before", "as it came")}, ADA)


def test_a_photograph_stays_on_anothers_sheet_that_names_the_person(shop):
    hers, his = taken_in(shop, HERS), taken_in(shop, "Bram Thistle")
    for visit, content in ((hers, picture()), (his, picture() + b"\0")):
        with_photograph(shop, visit, "front.png", content)
        visit = shop.change(shop.get(Visit, visit.id), ADA, complaint=f"{HERS} says it buzzes")
        close(shop, visit, later(minutes=60))
    before = drawn(shop, hers), drawn(shop, his)
    erase_person(shop, named(shop, HERS).id, later(days=1), sure=True)
    assert "Quillfeather" not in stored_sheet(shop, last_closing(shop, his), "html").decode()
    assert (drawn(shop, hers), drawn(shop, his)) == (before[0] - 1, before[1])


def test_lines_of_a_contact_that_anybody_has_stay_elsewhere(shop):
    common = "call evenings\nNew York; no e-mail, after 17:00\n7 Curlew Lane"
    owner = add_owner(shop, ADA, HERS, f"{common}\nase.q@example.org")
    other = add_owner(shop, ADA, "Bram Thistle", f"{common}\nbram@example.org")
    told = shop.change(taken_in(shop, "Cole"), ADA, complaint="Call evenings, or from New York; no e-mail")
    erase_person(shop, owner.id, later(days=1), sure=True)
    assert shop.get(Owner, other.id) == other
    assert shop.get(Visit, told.id).complaint == told.complaint
    assert [row for row in rows(shop) if "ase.q@" in row or HERS in row] == []


def test_a_date_in_a_contact_changes_no_moment_of_the_shop(shop):
    visit = taken_in(shop, "Bram Thistle")
    add_line(shop, ADA, visit, "labour", "set-up", "123456", "1")
    day = f"{visit.opened_at:%Y-%m-%d}"
    owner = add_owner(shop, ADA, HERS, f"since {day[:7]}\n{day}\n123456, {day.replace('-', '')}")
    before = shop.get(Visit, visit.id), shop.every(Line)
    erase_person(shop, owner.id, later(days=1), sure=True)
    assert (shop.get(Visit, visit.id), shop.every(Line)) == before
    assert [row for row in rows(shop) if GONE in row and "owner" not in row and HERS in row] == []


def test_a_short_number_goes_only_as_it_was_typed():
    said = ErasedWords(["123456", "555 01 999"], [])
    assert said.out_of("1.2 3.4 5.6, 123456.5, 0.123456; call 123456.", own=False) == (
        f"1.2 3.4 5.6, 123456.5, 0.123456; call {GONE}."
    )
    assert said.out_of("555-01-999 or 55501999", own=False) == f"{GONE} or {GONE}"


def test_what_a_program_reads_never_holds_a_persons_words():
    said = ErasedWords(["123456", "Rod Gap"], ["Rod"])
    told = {
        "hash": "ab123456ef",
        "amount": "123456",
        "changed_at": "2026-11-30T12:34:56.123456Z",
        "kind": "Rod Gap",
    }
    assert json.loads(said.out_of_value("body", json.dumps(told), own=True)) == told


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("7 Curlew Lane", True),
        ("ase@example.org", True),
        ("01.23.45.67.89", True),
        ("+47 555 01 999", True),
        ("桜町3丁目", True),
        ("東京都", False),
        ("since 2026-11", False),
        ("until 30.11.2026", False),
        ("2026-11-30", False),
        ("from 5 pm", False),
        ("call evenings", False),
    ],
)
def test_only_an_address_or_a_number_leads_to_one_person(line, wanted):
    assert leads_to_one(line) is wanted


def test_whoever_was_noted_by_mistake_takes_nothing_of_the_real_owners_visit(shop):
    visit = taken_in(shop, HERS, name="six strings")
    visit = shop.change(visit, ADA, complaint="Åse, his wife, says it buzzes")
    with_photograph(shop, visit, "his.png", picture())
    real = add_owner(shop, later(minutes=30), "Bram Thistle")
    instrument = shop.get(InstrumentRecord, visit.instrument_id)
    shop.change(instrument, later(minutes=30), owner_id=real.id)
    close(shop, visit, later(minutes=60))
    held = stored_sheet(shop, last_closing(shop, visit), "html")
    again = open_visit(shop, later(days=5), shop.get(InstrumentRecord, instrument.id), "Åse came")
    erase_person(shop, named(shop, HERS).id, later(days=9), sure=True)
    assert [one.name for one in shop.every(Attachment)] == ["his.png"]
    assert shop.get(Visit, visit.id).complaint == visit.complaint
    assert shop.get(Visit, again.id).complaint == "Åse came"
    assert stored_sheet(shop, last_closing(shop, visit), "html") == held


def test_a_name_of_two_letters_goes_from_that_persons_records(shop):
    hers, his = taken_in(shop, "Bo"), taken_in(shop, "Bram Thistle")
    for visit in (hers, his):
        shop.change(visit, ADA, complaint="Bo says: the bottom string and bo-peep buzz")
    erase_person(shop, named(shop, "Bo").id, later(days=1), sure=True)
    left = [shop.get(Visit, one.id).complaint for one in (hers, his)]
    assert left == [
        f"{GONE} says: the bottom string and bo-peep buzz", "Bo says: the bottom string and bo-peep buzz"
    ]  # fmt: skip
