"""Two equal instruments stay two; a person joins them and splits them again, and nothing is lost; on both engines."""

import html
import json
import re

import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.services.documents.hand_back.close import Closes, close_visit, gate_of
from breakangle.services.documents.hand_back.frozen import closed_told, last_closing, stored_sheet
from breakangle.services.intake.corrected_instrument import correct_by_names
from breakangle.services.intake.instrument_boxes import boxes_told
from breakangle.services.intake.typed_instrument import usual_typed
from breakangle.services.overview.instrument import instrument_told
from breakangle.services.overview.search import find
from breakangle.services.records.edit import bring_back, undo_edit
from breakangle.services.service_files.example import example_text
from breakangle.services.visit_sheets.sheets import take_in
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.instrument_identity.joining import (
    join_instruments,
    joined_into,
    joining_of_sheet,
    joinings_of,
    split_instruments,
)
from breakangle.services.visits.instrument_identity.similar import InstrumentAskedError
from breakangle.services.visits.visits import history, instrument_of, open_visit
from breakangle.services.workshop.attachments import attach
from breakangle.storage.exchange.exchange import export_shop
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import Attachment, InstrumentRecord, Visit
from shop_fixtures.filled import picture
from shop_fixtures.people import ADA, BO, GAP, ROD, later

pytest_plugins = ["shop_fixtures.shops", "shop_fixtures.command_line", "web_fixtures.at_hand"]
SHEET = json.loads(example_text())


def content(**instrument: str) -> bytes:
    return json.dumps(SHEET | {"instrument": SHEET["instrument"] | instrument, "readings": [GAP]}).encode()


def two_equals(shop) -> tuple[Visit, Visit]:
    """Return the visits of two owners' equal instruments; the first is closed, the second has work and a photograph."""
    first, _ = take_in(shop, ADA, content(), "a file", owner="Åse Holm")
    with pytest.raises(InstrumentAskedError, match="Åse Holm, sheet 1") as asked:
        take_in(shop, BO, content(shop_tag="T 7"), "a file", owner="Bram Thistle")
    assert [one.owner.name for one in asked.value.known] == ["Åse Holm"]
    assert [one.number for one in shop.every(Visit)] == [1]  # nothing was stored by asking
    second, _ = take_in(
        shop, later(days=40), content(shop_tag="T 7"), "a file", owner="Bram Thistle", same="new"
    )
    do_adjustment(shop, second.visit.id, ROD, later(days=40, minutes=9))
    attach(shop, later(days=40), second.visit, "photograph", "front.png", picture())
    visit = shop.get(Visit, first.visit.id)
    close_visit(shop, visit, ADA, Closes({one.key: "agreed" for one in gate_of(shop, visit)}, "Ada", "a4"))
    return shop.get(Visit, first.visit.id), shop.get(Visit, second.visit.id)


def told_of(shop, visit: Visit) -> tuple[object, ...]:
    """Return all that a visit and its instrument say, without versions and who changed them last."""
    record = shop.get(InstrumentRecord, visit.instrument_id)
    attached = [(one.id, one.hash, one.visit_id) for one in shop.every(Attachment, instrument_id=record.id)]
    told = record.owner_id, record.notes, record.targets, record.strings_changed_at, instrument_of(record)
    return told, service_of(shop, visit.id), entries_of(shop, visit.id), attached


def test_two_owners_equals_stay_two_are_joined_and_split_and_nothing_is_lost(shop):
    first, second = two_equals(shop)
    closing = last_closing(shop, first)
    sheet = [stored_sheet(shop, closing, form) for form in ("pdf", "html", "txt")]
    before = told_of(shop, first), told_of(shop, second)
    joined = join_instruments(shop, first.instrument_id, second.instrument_id, later(days=50))
    assert [one.number for one in history(shop, first.instrument_id)] == [1, 2]
    assert [one.visit.number for one in instrument_told(shop, joined.id).visits] == [2, 1]
    assert json.loads(joined.body)["shop_tag"] == "T 7"
    assert joined_into(shop, second.instrument_id) == first.instrument_id
    assert [(one.sheets, one.by) for one in joinings_of(shop, joined.id)] == [((2,), "Ada")]
    assert service_of(shop, second.id) == before[1][1]
    for refused in (bring_back, undo_edit):
        with pytest.raises(CorrectInputError, match="is joined to another"):
            refused(shop, "instrument", second.instrument_id, BO)
    again = shop.get(Visit, second.id)
    assert joining_of_sheet(shop, again).joined.id == second.instrument_id
    split_instruments(shop, second.instrument_id, later(days=51))
    assert (told_of(shop, first), told_of(shop, second)) == before
    assert joinings_of(shop, first.instrument_id) == ()
    assert [stored_sheet(shop, last_closing(shop, first), form) for form in ("pdf", "html", "txt")] == sheet
    assert last_closing(shop, first) == closing
    with pytest.raises(CorrectInputError, match="is not joined"):
        split_instruments(shop, second.instrument_id, later(days=52))


def test_closed_sheet_says_the_same_while_joined(shop):
    first, second = two_equals(shop)
    told = closed_told(shop, first)
    join_instruments(shop, second.instrument_id, first.instrument_id, later(days=50))
    moved = shop.get(Visit, first.id)
    assert moved.instrument_id == second.instrument_id
    assert (closed_told(shop, moved), moved.body, moved.closed_at) == (told, first.body, first.closed_at)
    with pytest.raises(CorrectInputError, match="closed on"):
        take_reading(shop, first.id, GAP, later(days=51))


def test_what_came_since_stays_with_the_kept_one_and_joining_again_works(shop, tmp_path):
    first, second = two_equals(shop)
    join_instruments(shop, first.instrument_id, second.instrument_id, later(days=50))
    kept = shop.get(InstrumentRecord, first.instrument_id)
    third = open_visit(shop, later(days=60), kept)
    fresh = [
        one.model_dump(mode="json", exclude_unset=True) | {"diameter_mm": 0.3}
        for one in instrument_of(kept).in_order()[:1]
    ]
    do_adjustment(shop, third.id, {"adjust": "restring", "strings": fresh}, later(days=60))
    correct_by_names(shop, 3, {"name": "Marram the first"}, later(days=61))
    split_instruments(shop, second.instrument_id, later(days=62))
    now = instrument_of(shop.get(InstrumentRecord, first.instrument_id))
    assert (now.name, now.in_order()[0].diameter_mm) == ("Marram the first", 0.3)
    assert [one.number for one in history(shop, first.instrument_id)] == [1, 3]
    assert [one.number for one in history(shop, second.instrument_id)] == [2]
    join_instruments(shop, first.instrument_id, second.instrument_id, later(days=70))
    assert [one.number for one in history(shop, first.instrument_id)] == [1, 2, 3]
    export_shop(shop, tmp_path / "all.zip")
    split_instruments(shop, second.instrument_id, later(days=71))
    assert [one.number for one in history(shop, second.instrument_id)] == [2]


def test_serial_number_is_asked_about_whatever_the_name_and_found_by_search(shop):
    first, _ = take_in(shop, ADA, content(serial_number="AB-1204"), "a file")
    other = content(serial_number="ab 1204", name="Dunlin")
    with pytest.raises(InstrumentAskedError, match="serial number AB-1204"):
        take_in(shop, BO, other, "a file")
    assert [one.number for one in find(shop, "1204")] == [None]
    # Of the same name with another serial number: nobody needs to be asked.
    third, _ = take_in(shop, BO, content(serial_number="AB-1999"), "a file")
    assert third.visit.instrument_id != first.visit.instrument_id
    again, _ = take_in(shop, BO, other, "a file", same="1")
    assert again.visit.instrument_id == first.visit.instrument_id


def test_unlike_ones_are_never_joined(shop):
    first, _ = two_equals(shop)
    four = SHEET["instrument"] | {"name": "Bittern", "strings": SHEET["instrument"]["strings"][-5:]}
    four["strings"] = [one | {"string": number} for number, one in enumerate(four["strings"], 1)]
    other, _ = take_in(
        shop, ADA, json.dumps({"format": SHEET["format"], "instrument": four}).encode(), "a file"
    )
    with pytest.raises(CorrectInputError, match="with 6 strings, Bittern"):
        join_instruments(shop, first.instrument_id, other.visit.instrument_id, BO)
    with pytest.raises(CorrectInputError, match="same instrument already"):
        join_instruments(shop, first.instrument_id, first.instrument_id, BO)


def test_screens_ask_join_and_split(first_sheet):
    """A file of an instrument that may be here is asked about; joined and split on the instrument's page."""
    file = {"file": ("other.json", content(shop_tag="T 7"))}
    asked = first_sheet.post("/visits/new/import", files=file)
    assert asked.status_code == 409
    assert "Which instrument is it?" in asked.text
    text = re.search(r'<textarea name="content"[^>]*>(.*?)</textarea>', asked.text, re.DOTALL)[1]
    answered = {"content": html.unescape(text), "source": "other.json", "same": "new"}
    taken = first_sheet.post("/visits/new/asked/import", data=answered)
    assert str(taken.url).endswith("/visits/2")
    keys = [
        re.search(r"/instruments/(\w+)", first_sheet.get(f"/visits/{number}").text)[1] for number in (1, 2)
    ]
    shown = first_sheet.get(f"/instruments/{keys[0]}/same").text
    assert "Shop&#39;s tag T 7" in shown
    joined = first_sheet.post(f"/instruments/{keys[0]}/join", data={"other": keys[1]})
    assert "Joined with Marram" in joined.text
    assert str(first_sheet.get(f"/instruments/{keys[1]}").url).endswith(keys[0])
    split = first_sheet.post(f"/instruments/{keys[0]}/split", data={"joined": keys[1]})
    assert "Joined with" not in split.text
    assert "T 7" in first_sheet.get(f"/instruments/{keys[1]}").text


def test_typed_serial_number_that_is_here_is_asked_about(first_sheet):
    typed = {"kind": "electric-guitar", "name": "Dunlin", "serial_number": "AB-1204"}
    typed |= {"scale_mm": "648", "frets": "22", "joint_fret": "17"} | boxes()
    assert str(first_sheet.post("/visits/new", data=typed).url).endswith("/visits/2")
    asked = first_sheet.post("/visits/new", data=typed | {"name": "Another"})
    assert asked.status_code == 422
    assert "Is Another the same instrument" in asked.text
    assert "Serial number AB-1204" in asked.text
    again = re.search(r'name="same" value="(?!new)(\w+)"', asked.text)[1]
    same = first_sheet.post("/visits/new", data=typed | {"same": again})
    assert str(same.url).endswith("/visits/3")
    assert str(first_sheet.post("/visits/new", data=typed | {"same": "new"}).url).endswith("/visits/4")


def boxes() -> dict[str, str]:
    told = boxes_told(usual_typed("electric-guitar"))
    return {name: text for name, text in told.items() if name not in ("name", "serial_number", "shop_tag")}


def test_command_line_shows_both_before_it_joins(run, tmp_path):
    (tmp_path / "a.json").write_bytes(content())
    (tmp_path / "b.json").write_bytes(content(serial_number="AB-1204"))
    run("take-in", str(tmp_path / "a.json"))
    refused = run("take-in", str(tmp_path / "b.json"), code=2)
    assert "is Marram, bolt-on six the same instrument as one that is here already" in refused
    run("take-in", str(tmp_path / "b.json"), "--instrument", "new")
    shown = run("join", "1", "2", code=1)
    assert "serial number AB-1204" in shown
    assert "sheet 1, 2" in run("join", "1", "2", "--sure")
    assert "sheet 2" in run("split", "2")
    assert "serial_number=AB-1204" in run("instrument", "2")
    run("instrument", "1", "shop_tag=T 7")
    assert "shop_tag='T 7'" in run("instrument", "1")
