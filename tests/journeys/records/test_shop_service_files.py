"""Service files into the shop and out of it, on both engines."""

import json

import pytest

from breakangle.model.service_file import ServiceFileError, service_text
from breakangle.services.intake.corrected_instrument import correct_by_names
from breakangle.services.service_files.example import example_service, example_text
from breakangle.services.service_files.service import read_service
from breakangle.services.visits.entries import correct, do_adjustment, service_of, take_reading, undo
from breakangle.services.visits.instrument_identity.similar import InstrumentAskedError
from breakangle.services.visits.service_files import bring_in, export_visit, visit_text
from breakangle.services.visits.visits import history, instrument_of, open_visit
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import InstrumentRecord, Visit
from shop_fixtures.people import ADA, BO, GAP, ROD, later

pytest_plugins = ["shop_fixtures.shops"]
EXAMPLE = example_text().encode()


def test_a_file_comes_back_as_it_went_in(shop, tmp_path):
    brought = bring_in(shop, EXAMPLE, "a file", ADA)
    assert (brought.new_visit, brought.added_count) == (True, len(example_service().readings))
    assert visit_text(shop, brought.visit.id) == service_text(example_service())
    export_visit(shop, brought.visit.id, str(tmp_path / "visit.json"))
    assert read_service(tmp_path / "visit.json") == example_service()


def test_work_and_readings_keep_their_order(shop):
    visit = bring_in(shop, EXAMPLE, "a file", ADA).visit
    do_adjustment(shop, visit.id, ROD, ADA)
    take_reading(shop, visit.id, GAP, ADA)
    service = service_of(shop, visit.id)
    assert service.readings[-1].after == 1
    assert all(one.after == 0 for one in service.readings[:-1])
    assert service.work[0].turns == 0.25


def test_the_same_file_twice_is_one_visit(shop):
    first = bring_in(shop, EXAMPLE, "a file", ADA)
    again = bring_in(shop, EXAMPLE, "a file", BO)
    own = bring_in(shop, visit_text(shop, first.visit.id).encode(), "our own", BO)
    assert (again.visit, own.visit) == (first.visit, first.visit)
    assert [one.added_count for one in (again, own)] == [0, 0]
    assert (len(shop.every(InstrumentRecord)), len(shop.every(Visit))) == (1, 1)


def test_a_visit_gone_on_with_elsewhere_is_gone_on_with_here(shop):
    first = bring_in(shop, EXAMPLE, "a file", ADA)
    data = json.loads(EXAMPLE)
    data["work"] = [ROD]
    data["readings"].append(GAP | {"after": 1})
    more = bring_in(shop, json.dumps(data).encode(), "a file", BO)
    assert (more.visit.id, more.new_visit, more.added_count) == (first.visit.id, False, 2)
    # The older file is the beginning of what stands: another visit would be a double of half of this one.
    other = json.loads(EXAMPLE)
    other["readings"][0]["mm"] = 0.33
    with pytest.raises(InstrumentAskedError, match="is Marram, bolt-on six the same instrument"):
        bring_in(shop, json.dumps(other).encode(), "a file", BO)
    separate = bring_in(shop, json.dumps(other).encode(), "a file", BO, same="1")
    assert separate.new_visit
    assert [one.number for one in history(shop, first.visit.instrument_id)] == [1, 2]


def test_keys_that_nobody_knows_are_kept(shop):
    data = json.loads(EXAMPLE) | {"colour": "red", "room": {"temperature_c": 20.0, "draught": True}}
    data["instrument"]["finish"] = "oil"
    data["readings"][0]["light"] = "north"
    visit = bring_in(shop, json.dumps(data).encode(), "a file", ADA).visit
    out = json.loads(visit_text(shop, visit.id))
    assert (out["colour"], out["room"]["draught"], out["instrument"]["finish"]) == ("red", True, "oil")
    assert out["readings"][0]["light"] == "north"


def test_a_wrong_file_stores_nothing(shop):
    data = json.loads(EXAMPLE)
    data["readings"][3]["string"] = 17
    with pytest.raises(ServiceFileError):
        bring_in(shop, json.dumps(data).encode(), "a file", ADA)
    assert shop.every(InstrumentRecord) == ()


def test_an_older_visit_gone_on_with_does_not_become_the_instruments_description(shop):
    first = bring_in(shop, EXAMPLE, "a file", ADA).visit
    record = shop.get(InstrumentRecord, first.instrument_id)
    second = open_visit(shop, later(days=90), record)
    fresh = [one.model_dump(exclude_unset=True) for one in example_service().instrument.strings]
    fresh[0]["diameter_mm"] = 0.28
    do_adjustment(shop, second.id, {"adjust": "restring", "strings": fresh}, later(days=90))
    known = shop.get(InstrumentRecord, record.id)
    data = json.loads(EXAMPLE)
    data["work"] = [ROD]
    more = bring_in(shop, json.dumps(data).encode(), "a file", later(days=91))
    assert (more.visit.id, more.added_count) == (first.id, 1)
    assert shop.get(InstrumentRecord, record.id) == known
    # The newest visit gone on with does become it.
    newest = json.loads(visit_text(shop, second.id))
    newest["work"].append({"adjust": "restring", "strings": [fresh[0] | {"diameter_mm": 0.33}]})
    assert bring_in(shop, json.dumps(newest).encode(), "a file", later(days=92)).visit.id == second.id
    assert '"diameter_mm":0.33' in shop.get(InstrumentRecord, record.id).body


def test_a_file_is_its_visit_however_that_was_corrected_and_gone_on_with_since(shop):
    data = json.loads(EXAMPLE) | {"work": [ROD]}
    content = json.dumps(data).encode()
    visit = bring_in(shop, content, "a file", ADA).visit
    entries = entries_of(shop, visit.id)
    correct(shop, entries[0].id, json.loads(entries[0].body) | {"mm": 0.44}, "misread", BO)
    take_reading(shop, visit.id, GAP, BO)
    undo(shop, entries[-1].id, BO)  # the turn
    correct_by_names(shop, 1, {"name": "Dunlin", "scale_mm": "628.65", "gauge_1": ".009"}, BO)
    before = shop.get(InstrumentRecord, visit.instrument_id), service_of(shop, visit.id)
    again = bring_in(shop, content, "a file", later(days=1))
    assert (again.visit.id, again.new_visit, again.added_count) == (visit.id, False, 0)
    assert (shop.get(InstrumentRecord, visit.instrument_id), service_of(shop, visit.id)) == before
    assert (len(shop.every(InstrumentRecord)), len(shop.every(Visit))) == (1, 1)


def test_what_was_done_elsewhere_comes_to_a_visit_whose_instrument_was_put_right_here(shop):
    visit = bring_in(shop, EXAMPLE, "a file", ADA).visit
    correct_by_names(shop, 1, {"name": "Dunlin", "scale_mm": "628.65", "turns_left": "2"}, BO)
    data = json.loads(EXAMPLE) | {"work": [ROD]}
    more = bring_in(shop, json.dumps(data).encode(), "a file", later(days=1))
    assert (more.visit.id, more.added_count) == (visit.id, 1)
    now = instrument_of(shop.get(InstrumentRecord, visit.instrument_id))
    assert (now.name, now.scale_mm, now.rod.turns_left) == ("Dunlin", 628.65, 1.75)
    assert service_of(shop, visit.id).instrument_now() == now


def test_another_instrument_in_the_words_of_a_renamed_one_is_another(shop):
    data = json.loads(EXAMPLE) | {"readings": []}
    first = bring_in(shop, json.dumps(data).encode(), "a file", ADA).visit
    correct_by_names(shop, 1, {"name": "Dunlin"}, BO)
    take_reading(shop, first.id, GAP, BO)
    undo(shop, entries_of(shop, first.id)[0].id, BO)
    for readings, same in (([], ""), ([GAP | {"mm": 1.7}], "2")):
        content = json.dumps(data | {"readings": readings}).encode()
        other = bring_in(shop, content, "a file", later(days=1), same=same)
        assert (other.new_visit, other.added_count) == (True, len(readings))
        assert other.visit.instrument_id != first.instrument_id
    assert len(shop.every(InstrumentRecord)) == 2
