"""A person erased takes nothing else along: common first names, names of the trade, wide signs, earlier owners."""

import json
import unicodedata

import pytest

from breakangle.services.documents.hand_back.frozen import last_closing, stored_sheet
from breakangle.services.records.erase import erase_person
from breakangle.services.records.import_checks import RowsRead
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.instrument_identity.joining import join_instruments
from breakangle.services.visits.visits import add_owner, open_visit
from breakangle.services.workshop.attachments import attach
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.erased_words import ErasedWords, is_distinctive
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.files.blobs import blob_path, get_blob
from breakangle.storage.records.records import Attachment, InstrumentRecord, Visit
from breakangle.storage.schema.errors import ShopDamagedError
from shop_fixtures.filled import picture
from shop_fixtures.owners import close, named, rows, taken_in
from shop_fixtures.people import ADA, BO, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def shop(tmp_path):
    made = shop_at(tmp_path / "shop")
    yield made
    made.close()


@pytest.mark.parametrize("name", ["Ben", "Rod", "Ann", "Light Steel", "Rod Gap", "Medium", "King In"])
def test_a_common_name_goes_and_nothing_else_is_touched(shop, tmp_path, name):
    theirs, other = taken_in(shop, name), taken_in(shop, "Bram Thistle")
    shop.change(
        other, ADA, complaint="cannot reach the bench; the bottom string, medium light, rings in gaps"
    )
    mine = shop.change(theirs, ADA, complaint=f"{name} says: it buzzes", notes=f"call {name} first")
    before = [service_of(shop, one.id) for one in (theirs, other)]
    others = shop.get(Visit, other.id)
    erase_person(shop, named(shop, name).id, later(days=1), sure=True)
    now = shop.get(Visit, mine.id)
    assert (now.complaint, now.notes) == ("[erased] says: it buzzes", "call [erased] first")
    assert now.state == "on the bench"
    assert shop.get(Visit, other.id) == others
    after = [service_of(shop, one.id) for one in (theirs, other)]
    assert [one.readings for one in after] == [one.readings for one in before]
    assert [one.work for one in after] == [one.work for one in before]
    assert after[0].instrument.name == "[erased], six strings"
    assert after[0].instrument.model_copy(update={"name": ""}) == before[0].instrument.model_copy(
        update={"name": ""}
    )
    assert after[1] == before[1]
    # All of it can be taken along and read in again.
    export_shop(shop, tmp_path / "all.zip")
    again = shop_at(tmp_path / "again")
    import_shop(again, tmp_path / "all.zip", RowsRead("all.zip"))
    again.close()


def test_names_in_wide_signs_of_one_and_two_go_too(shop):
    for name in ("森 翔", "李明", "林"):
        visit = taken_in(shop, name)
        shop.change(visit, ADA, complaint=f"{name}様のギター", notes=name.split()[0])
        erase_person(shop, named(shop, name).id, later(days=1), sure=True)
        assert [row for row in rows(shop) if any(part in row for part in name.split())] == []


def test_what_a_person_was_called_and_how_it_was_spelled_goes(shop):
    visit = taken_in(shop, "Åse Quillfeather")
    owner = shop.change(named(shop, "Åse Quillfeather"), BO, name="Åse Thornby", contact="+47 555 019 99")
    apart = unicodedata.normalize("NFD", "Åse Quillfeather")
    shop.change(
        visit, ADA, complaint=f"{apart} called, 4755501999 or 47-555-01-999", notes="turned 155501999.5"
    )
    erase_person(shop, owner.id, later(days=1), sure=True)
    left = rows(shop)
    assert [
        row for row in left if any(one in row for one in ("Quillfeather", "Thornby", "01999", "01-999"))
    ] == [row for row in left if "turned 155501999.5" in row]


def test_an_earlier_owner_goes_from_the_sheets_of_that_time_and_the_later_stays(shop):
    first = taken_in(shop, "Åse Quillfeather")
    attach(shop, ADA, first, "photograph", "hers.png", picture())
    close(shop, first, later(minutes=60))
    instrument = shop.get(InstrumentRecord, first.instrument_id)
    buyer = add_owner(shop, later(days=9), "Bram Thistle")
    instrument = shop.change(instrument, later(days=10), owner_id=buyer.id)
    second = open_visit(shop, later(days=20), instrument)
    attach(shop, later(days=20), second, "photograph", "his.png", picture() + b"\0")
    close(shop, second, later(days=20, minutes=60))
    his = stored_sheet(shop, last_closing(shop, second), "txt")
    damaged = last_closing(shop, first).html_hash  # it stops nobody from being erased
    blob_path(shop.folder, damaged).write_bytes(b"Quillfeather")
    erase_person(shop, named(shop, "Åse Quillfeather").id, later(days=30), sure=True)
    assert [row for row in rows(shop) if "Quillfeather" in row and '"name"' not in row] == []
    assert "Quillfeather" not in stored_sheet(shop, last_closing(shop, first), "html").decode()
    # The later owner's sheet names the earlier one in the instrument's name alone.
    now = stored_sheet(shop, last_closing(shop, second), "txt")
    assert now == his.replace("Åse Quillfeather".encode(), b"[erased]")
    assert b"Bram Thistle" in now
    assert blob_path(shop.folder, last_closing(shop, first).html_hash).read_bytes()
    with pytest.raises(ShopDamagedError):
        get_blob(shop.folder, damaged)
    assert [one.name for one in shop.every(Attachment, deleted=True)] == ["his.png"]


def test_photographs_go_with_the_person_whose_instrument_was_joined_to_anothers(shop):
    kept, joined = taken_in(shop, "Åse Quillfeather"), taken_in(shop, "Bram Thistle")
    for visit, name in ((kept, "hers.png"), (joined, "his.png")):
        attach(shop, ADA, visit, "photograph", name, picture() if visit is kept else picture() + b"\0")
    join_instruments(shop, kept.instrument_id, joined.instrument_id, later(days=2))
    erase_person(shop, named(shop, "Bram Thistle").id, later(days=3), sure=True)
    assert [one.name for one in shop.every(Attachment, deleted=True)] == ["hers.png"]
    assert [row for row in rows(shop) if "Thistle" in row] == []


def test_numbers_and_what_a_program_reads_are_never_taken_for_a_person():
    said = ErasedWords(["7 Rod Lane", "648 648"], ["Rod", "648", "Kim"], ["Rod"])
    told = '{"adjust": "rod", "turns": 0.648648, "kind": "rod-kim", "notes": "Rod, kim and the rod at 7 rod lane"}'
    assert json.loads(said.out_of_value("body", told, own=True)) == {
        "adjust": "rod", "turns": 0.648648, "kind": "rod-kim",
        "notes": "[erased], [erased] and the rod at [erased]",
    }  # fmt: skip
    page = '<body class="rod"><style>.Kim {}</style><p title="Rod">Rod: a rod</p></body>'
    assert said.out_of_page(page, own=True) == page.replace(">Rod:", ">[erased]:")
    assert [is_distinctive(one) for one in ("Ben", "Bergen", "Jo Li", "a@b", "12", "555 0199", "李明", "林")] == [
        False, False, True, True, False, True, True, False,
    ]  # fmt: skip
