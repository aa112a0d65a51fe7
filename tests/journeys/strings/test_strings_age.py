"""How old the strings are that are on: as old as the day they went on, whatever is corrected or undone later."""

import json

import pytest

from breakangle.services.service_files.example import example_service, example_text
from breakangle.services.visits.entries import correct, do_adjustment, take_reading, undo
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.storage.records.records import InstrumentRecord
from shop_fixtures.people import ADA, GAP, ROD, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def record(shop) -> InstrumentRecord:
    return add_instrument(shop, ADA, example_service().instrument)


def new_strings(first_mm: float) -> dict:
    """Return that a set went on, its first string of this size."""
    strings = [
        one.model_dump(mode="json", exclude_unset=True) for one in example_service().instrument.strings
    ]
    return {"adjust": "restring", "strings": [strings[0] | {"diameter_mm": first_mm}, *strings[1:]]}


def test_a_size_corrected_months_later_makes_the_strings_no_newer(shop, record):
    visit = open_visit(shop, ADA, record)
    on = do_adjustment(shop, visit.id, new_strings(0.28), later(days=1))
    right = correct(shop, on.id, new_strings(0.254), "misread the packet", later(days=150))
    assert shop.get(InstrumentRecord, record.id).strings_changed_at == later(days=1).at
    undo(shop, right.id, later(days=151))
    assert shop.get(InstrumentRecord, record.id).strings_changed_at == later(days=1).at
    do_adjustment(shop, visit.id, ROD, later(days=152))
    reading = take_reading(shop, visit.id, GAP, later(days=152))
    correct(shop, reading.id, GAP | {"mm": 1.6}, "misread", later(days=153))
    assert shop.get(InstrumentRecord, record.id).strings_changed_at == later(days=1).at


def test_of_two_sets_put_on_the_last_that_stands_tells_the_age(shop, record):
    visit = open_visit(shop, ADA, record)
    do_adjustment(shop, visit.id, new_strings(0.28), later(days=1))
    second = do_adjustment(
        shop, visit.id, new_strings(0.28), later(days=3)
    )  # the same kind: new all the same
    assert shop.get(InstrumentRecord, record.id).strings_changed_at == later(days=3).at
    undo(shop, second.id, later(days=4))
    assert shop.get(InstrumentRecord, record.id).strings_changed_at == later(days=1).at


@pytest.mark.parametrize("size_mm", [0.254, 0.28])
def test_strings_that_did_not_go_on_after_all_leave_no_day_behind(shop, record, size_mm):
    visit = open_visit(shop, ADA, record)
    on = do_adjustment(shop, visit.id, new_strings(size_mm), later(days=10))
    gone = undo(shop, on.id, later(days=20))
    assert shop.get(InstrumentRecord, record.id).strings_changed_at is None
    undo(shop, gone.id, later(days=21))
    assert shop.get(InstrumentRecord, record.id).strings_changed_at == later(days=10).at
    shop.change(shop.get(InstrumentRecord, record.id), ADA, notes="a case came with it")
    second = open_visit(shop, later(days=90), record)
    again = do_adjustment(shop, second.id, new_strings(0.3), later(days=90))
    again = correct(shop, again.id, new_strings(0.33), "misread", later(days=91))
    assert shop.get(InstrumentRecord, record.id).strings_changed_at == later(days=90).at
    correct(shop, again.id, None, "they were not changed", later(days=95))
    assert shop.get(InstrumentRecord, record.id).strings_changed_at == later(days=10).at


def test_an_instrument_brought_in_with_other_strings_has_had_new_ones(shop):
    brought = bring_in(shop, example_text().encode(), "a file", ADA).visit
    data = json.loads(example_text())
    data["instrument"]["strings"][0]["diameter_mm"] = 0.28
    second = bring_in(shop, json.dumps(data).encode(), "a file", later(days=60), same="1").visit
    assert (second.id != brought.id, second.instrument_id) == (True, brought.instrument_id)
    assert shop.get(InstrumentRecord, brought.instrument_id).strings_changed_at == later(days=60).at
    do_adjustment(shop, second.id, ROD, later(days=61))
    assert shop.get(InstrumentRecord, brought.instrument_id).strings_changed_at == later(days=60).at
