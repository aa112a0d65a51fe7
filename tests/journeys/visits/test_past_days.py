"""Visits, readings and work entered later than they happened: in order of when, shown with when entered."""

import json
from datetime import UTC, datetime

import pytest
from starlette.testclient import TestClient

from breakangle.model.errors import CorrectInputError
from breakangle.services.documents.hand_back.amend import open_amendment
from breakangle.services.documents.hand_back.close import Closes, close_visit, gate_of
from breakangle.services.history.learning import earlier_services
from breakangle.services.service_files.example import example_text
from breakangle.services.typed_values.past_days import day_typed
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import history, instrument_of, open_visit
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import InstrumentRecord, Visit
from shop_fixtures.people import ADA, GAP, ROD, later
from web_fixtures.opened import workshop_of

pytest_plugins = ["shop_fixtures.shops", "shop_fixtures.command_line", "web_fixtures.at_hand"]
EXAMPLE = example_text().encode()
PAST = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def restring(shop, visit: Visit, diameter_mm: float, stamp, before=None):
    string = instrument_of(shop.get(InstrumentRecord, visit.instrument_id)).in_order()[0]
    fresh = string.model_dump(mode="json", exclude_unset=True) | {"diameter_mm": diameter_mm}
    return do_adjustment(shop, visit.id, {"adjust": "restring", "strings": [fresh]}, stamp, before=before)


def test_a_visit_of_the_past_stands_before_those_since_and_teaches_them(shop):
    newer = bring_in(shop, EXAMPLE, "a file", ADA).visit
    restring(shop, newer, 0.3, later(minutes=5))
    kept = shop.get(InstrumentRecord, newer.instrument_id)
    old = open_visit(shop, later(days=1), kept, "from the notebook", on=PAST)
    assert (old.number, old.opened_at, old.created_at) == (2, PAST, later(days=1).at)
    assert [one.number for one in history(shop, kept.id)] == [2, 1]
    take_reading(shop, old.id, GAP, later(days=1, minutes=1), before="2026-03-02")
    do_adjustment(shop, old.id, ROD, later(days=1, minutes=2), before="2026-03-02 15:00")
    restring(shop, old, 0.26, later(days=1, minutes=3), before="2026-03-03")
    # The older visit's strings are not those that are on now, and it teaches the newer one, not the other way.
    now = shop.get(InstrumentRecord, kept.id)
    assert (now.body, now.strings_changed_at) == (kept.body, kept.strings_changed_at)
    assert earlier_services(shop, newer) == (service_of(shop, old.id),)
    assert earlier_services(shop, shop.get(Visit, old.id)) == ()
    days = [(one.taken_at.date().isoformat(), one.entered_at) for one in entries_of(shop, old.id)]
    assert [day for day, _ in days] == ["2026-03-02", "2026-03-02", "2026-03-03"]
    assert [at for _, at in days] == [later(days=1, minutes=minute).at for minute in (1, 2, 3)]


def test_an_entry_stands_where_its_day_puts_it(shop, new_shop, tmp_path):
    visit = bring_in(shop, json.dumps(json.loads(EXAMPLE) | {"readings": []}).encode(), "a file", ADA).visit
    take_reading(shop, visit.id, GAP | {"mm": 2.0}, later(days=1))
    after = take_reading(shop, visit.id, GAP | {"mm": 1.8}, later(days=9))
    strings = restring(shop, visit, 0.26, later(days=10), before="2027-01-15")
    assert (strings.stands, strings.entered_at) == (1.5, later(days=10).at)
    assert [one.after for one in service_of(shop, visit.id).readings] == [0, 1]
    assert shop.get(InstrumentRecord, visit.instrument_id).strings_changed_at == strings.taken_at
    before = take_reading(shop, visit.id, GAP | {"mm": 1.9}, later(days=11), before=after.id)
    assert (before.taken_at, before.entered_at) == (after.taken_at, later(days=11).at)
    export_shop(shop, tmp_path / "all.zip")
    other = new_shop("other")
    import_shop(other, tmp_path / "all.zip")
    assert entries_of(other, visit.id) == entries_of(shop, visit.id)


def test_a_file_of_the_past_was_read_then(shop):
    visit = bring_in(shop, EXAMPLE, "a file", ADA, on=PAST).visit
    assert (visit.opened_at, visit.created_at) == (PAST, ADA.at)
    assert {(one.taken_at, one.entered_at) for one in entries_of(shop, visit.id)} == {(PAST, ADA.at)}


@pytest.mark.parametrize("text", ["2027-13-01", "yesterday", "1900-01-01", "2027-06-01", "0001-01-01 00:00"])
def test_days_that_cannot_be_are_refused(text):
    with pytest.raises(CorrectInputError, match="a day from 1950 to today"):
        day_typed(text, ADA.at)
    assert day_typed("  ", ADA.at) is None
    assert day_typed("2027-01-11", ADA.at) <= ADA.at  # today


def test_verbs_take_a_day_and_show_when_it_was_entered(run, taken_in):
    said = run("take-in", "--again", taken_in, "--on", "2026-03-02")
    assert said.startswith("Sheet 2")
    run("read", "2", "gap", "string=6", "fret=12", "held=1", "mm=1.8", "--on", "2026-03-02")
    shown = run("visit", "2")
    assert "2026-03-02 12:00, entered 20" in shown
    assert "one of the two" in run(
        "work", "2", "rod", "turns=0.25", "--on", "2026-03-02", "--before", "x", code=2
    )
    assert "a day from 1950 to today" in run("take-in", "--again", taken_in, "--on", "2926-03-02", code=2)


def test_pages_take_a_day_and_show_when_it_was_entered(first_sheet: TestClient):
    shop = workshop_of(first_sheet).shop()
    (visit,) = shop.every(Visit)
    typed = {"instrument": visit.instrument_id, "came_in_on": "2026-03-02"}
    assert first_sheet.post("/visits/new", data=typed).url.path == "/visits/2"
    assert "entered" in first_sheet.get("/visits/2").text
    assert 'name="on" type="date"' in first_sheet.get("/visits/2/late").text
    other = {"quantity": "gap", "string": "6", "fret": "12", "held": "1", "text": "1.91", "on": "2026-03-02"}
    first_sheet.post("/visits/2/readings/other", data=other)
    (entry,) = entries_of(shop, shop.every(Visit)[1].id)
    assert entry.taken_at.date().isoformat() == "2026-03-02"
    assert "entered" in first_sheet.get("/visits/2/entries").text
    assert first_sheet.post("/visits/new", data=typed | {"came_in_on": "soon"}).status_code == 422


def closes_on(shop, visit: Visit, day: str) -> Closes:
    reasons = {one.key: "agreed with the owner" for one in gate_of(shop, visit)}
    return Closes(reasons, "Ada", left_on=day)


def test_a_hand_back_of_the_past_is_told_by_its_day_and_by_when_it_was_entered(shop):
    kept = bring_in(shop, EXAMPLE, "a file", ADA, on=PAST).visit
    for day, told in (("2026-03-01", "a day from 2026-03-02 on"), ("2926-03-04", "a day from 1950 to today")):
        with pytest.raises(CorrectInputError, match=told):
            close_visit(shop, kept, later(minutes=1), closes_on(shop, kept, day))
    assert shop.get(Visit, kept.id).handed_back_at is None
    closing = close_visit(shop, kept, later(minutes=1), closes_on(shop, kept, "2026-03-04"))
    closed = shop.get(Visit, kept.id)
    assert closed.handed_back_at.date().isoformat() == "2026-03-04"
    assert (closing.created_at, closed.closed_at) == (later(minutes=1).at, later(minutes=1).at)
    assert "4 March 2026" in json.loads(closing.body)["text"]
    open_amendment(shop, closed, "a wrong word", later(minutes=2))
    again = shop.get(Visit, kept.id)
    close_visit(shop, again, later(minutes=3), closes_on(shop, again, ""))
    assert shop.get(Visit, kept.id).handed_back_at == closed.handed_back_at


def test_a_day_of_coming_in_is_early_enough_for_going_back(shop):
    kept = bring_in(shop, EXAMPLE, "a file", ADA, on=PAST.replace(hour=18)).visit
    close_visit(shop, kept, later(minutes=1), closes_on(shop, kept, "2026-03-02"))
    assert shop.get(Visit, kept.id).handed_back_at == PAST.replace(hour=18)


def test_page_takes_the_day_an_instrument_went_back(first_sheet: TestClient):
    shop = workshop_of(first_sheet).shop()
    assert 'name="left_on" type="date"' in first_sheet.get("/visits/1/hand-back").text
    (visit,) = shop.every(Visit)
    reasons = {f"reason:{one.key}": "agreed" for one in gate_of(shop, visit)}
    typed = reasons | {"signed_by": "Ada", "left_on": "1949-01-01"}
    assert first_sheet.post("/visits/1/hand-back", data=typed).status_code == 422
    today = datetime.now(UTC).astimezone().date().isoformat()
    assert "closed" in first_sheet.post("/visits/1/hand-back", data=typed | {"left_on": today}).text
    assert shop.every(Visit)[0].handed_back_at.astimezone().date().isoformat() == today


def test_verb_takes_the_day_an_instrument_went_back(run, taken_in):
    said = run("hand-back", taken_in, "--sign", "Ada", "--left", "soon", code=2)
    assert "a day from 1950 to today" in said
