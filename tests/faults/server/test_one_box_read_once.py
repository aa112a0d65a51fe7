"""One posted box: its sheet parsed once, its entries read once, and never as they were before another stored there."""

import re
import threading

import pytest
from starlette.testclient import TestClient

from breakangle.services.plans import solved_visits
from breakangle.services.service_files.example import example_text
from breakangle.services.visits import parsed_sheets
from breakangle.services.visits.entries import correct, do_adjustment, service_of, take_reading, undo
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workers.queue import PLANS
from breakangle.storage.connection.moment import one_moment
from breakangle.storage.records import entries as stored_entries
from breakangle.storage.records.entries import entries_of, standing
from shop_fixtures.people import ADA, GAP

pytest_plugins = ["shop_fixtures.shops", "web_fixtures.at_hand"]

TUNED = {"adjust": "tune"}


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> dict[str, int]:
    """Return how often sheets were parsed and entries read since; both go on as they did."""
    counts = {"parsed": 0, "read": 0}
    for name, module, key in (
        ("service_from", parsed_sheets, "parsed"),
        ("_entries_read", stored_entries, "read"),
    ):
        whole = getattr(module, name)

        def noted(*given, whole=whole, key=key):
            counts[key] += 1
            return whole(*given)

        monkeypatch.setattr(module, name, noted)
    return counts


def test_posted_box_parses_its_sheet_once_and_reads_its_entries_once(first_sheet: TestClient, counted):
    first_sheet.get("/visits/1/readings")
    counted.update(parsed=0, read=0)
    box = {"box": "gap_3_7_h1-17", "text": "0.31 mm", "key": "one-box"}
    assert first_sheet.post("/visits/1/readings/one", data=box).status_code == 200
    assert counted == {"parsed": 1, "read": 1}


def test_entries_known_to_a_request_are_read_again_after_another_stored_there(shop):
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    count = len(entries_of(shop, visit.id))
    with one_moment():
        take_reading(shop, visit.id, GAP, ADA)
        other = threading.Thread(target=take_reading, args=(shop, visit.id, GAP | {"mm": 1.7}, ADA))
        other.start()
        other.join()
        assert len(entries_of(shop, visit.id)) == count + 2


def test_entries_carried_through_a_request_are_those_that_are_stored(shop):
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    with one_moment():
        first = take_reading(shop, visit.id, GAP, ADA)
        late = take_reading(shop, visit.id, GAP | {"mm": 1.6}, ADA, before=first.id)
        undo(shop, late.id, ADA)
        correct(shop, first.id, GAP | {"mm": 1.9}, "typed wrongly", ADA)
        carried = entries_of(shop, visit.id)
    assert carried == entries_of(shop, visit.id)
    assert [one.id for one in standing(carried)].count(late.id) == 0


def test_sheet_remembered_from_storing_is_the_one_that_is_parsed(shop):
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    take_reading(shop, visit.id, GAP | {"mm": 2}, ADA)
    do_adjustment(shop, visit.id, TUNED, ADA)
    take_reading(shop, visit.id, {**GAP, "note in pencil": "after noon"}, ADA)
    remembered = service_of(shop, visit.id)
    parsed_sheets._PARSED.clear()
    parsed = service_of(shop, visit.id)
    assert parsed is not remembered
    assert parsed == remembered
    assert parsed.model_dump_json(exclude_unset=True) == remembered.model_dump_json(exclude_unset=True)


def test_posted_box_waits_for_no_plan_and_its_page_asks_for_it(first_sheet: TestClient, monkeypatch):
    plans, made = list[object](), solved_visits.made_plan

    def counted_plan(*given):
        plans.append(given)
        return made(*given)

    monkeypatch.setattr(solved_visits, "made_plan", counted_plan)
    monkeypatch.setattr(solved_visits, "read_next", lambda *_: None)  # nothing tells more than the plan's own
    stored = first_sheet.post("/visits/1/readings/one", data={"box": "gap_3_7_h1-17", "text": "0.31 mm"})
    assert stored.status_code == 200
    assert plans == []
    assert 'hx-get="/visits/1/readings/asked" hx-trigger="load, bench-back from:document"' in stored.text
    asked = first_sheet.get("/visits/1/readings/asked").text
    assert len(plans) == 1
    assert "hx-get" not in asked
    assert "To be read for the plan:" in asked or "No further reading would change the plan." in asked
    assert first_sheet.get("/visits/1/readings/asked").text == asked
    assert len(plans) == 1


def test_what_is_asked_next_is_asked_for_again_where_too_many_wait(first_sheet: TestClient, monkeypatch):
    """Nobody asked for it: no message stands in the page's place for refusals, and the page asks again by itself."""
    monkeypatch.setattr(PLANS, "_count", PLANS.at_once + PLANS.waiting)
    answer = first_sheet.get("/visits/1/readings/asked", headers={"hx-request": "true"})
    assert (answer.status_code, "hx-retarget" in answer.headers) == (200, False)
    assert re.search(
        r'hx-get="/visits/1/readings/asked" hx-trigger="load delay:\d+s, bench-back from:document"',
        answer.text,
    )
    monkeypatch.setattr(PLANS, "_count", 0)
    assert "delay" not in first_sheet.get("/visits/1/readings/asked").text
