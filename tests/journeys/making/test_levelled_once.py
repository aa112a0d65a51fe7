"""Frets levelled as the page showed it: what was shown is stored, once, by who may; and it can be taken back."""

import json
import re
from dataclasses import replace

import pytest
from starlette.testclient import TestClient

from breakangle.planning.kinds.adjustments.fret_level import FretLevel
from breakangle.services.plans import plan_frets
from breakangle.services.visits.entries import service_of, take_reading
from breakangle.services.visits.moves import move_visit
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop
from breakangle.web import render
from journeys.making.test_frets import read_by_dial
from shop_fixtures.people import ADA
from web_fixtures.forms import hidden_fields
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]
HERE, ASKED = "/visits/1/frets", "?strength=light&low=2.2&high=1.9"
CHARGED = "Put on the sheet: Fret levelling"


@pytest.fixture
def sheet(bench: TestClient) -> TestClient:
    sent = read_by_dial().model_dump_json(exclude_unset=True).encode()
    bench.post("/visits/new/import", files={"file": ("one.json", sent)})
    return bench


def shop_of(sheet: TestClient) -> Shop:
    return workshop_of(sheet).shop()


def visit_of(sheet: TestClient) -> Visit:
    (visit,) = shop_of(sheet).every(Visit)
    return visit


def levelled(sheet: TestClient) -> list[FretLevel]:
    done = service_of(shop_of(sheet), visit_of(sheet).id).work
    return [one for one in done if isinstance(one, FretLevel)]


def test_sent_twice_it_is_stored_once_as_it_was_shown_and_undone_there(sheet, monkeypatch):
    fields = hidden_fields(sheet.get(f"{HERE}{ASKED}").text, HERE)
    assert fields is not None
    solving = "nothing is worked out anew when it is stored: the person did what was shown"
    with monkeypatch.context() as patched:
        patched.setattr(plan_frets, "solved_visit", lambda *_: pytest.fail(solving))
        for _ in range(2):
            assert sheet.post(HERE, data=fields, follow_redirects=False).status_code == 303
    (one,) = levelled(sheet)
    assert one == FretLevel.model_validate(json.loads(fields["step"]))
    page = sheet.get(HERE).text
    undo = re.search(r'action="/visits/1/plan/undo"><input type="hidden" name="entry" value="(\w+)">', page)
    assert undo is not None
    assert "Undo" in page
    sheet.post("/visits/1/plan/undo", data={"entry": undo[1]})
    assert levelled(sheet) == []


def test_what_was_read_since_the_map_was_shown_is_not_filed_over(sheet):
    fields = hidden_fields(sheet.get(f"{HERE}{ASKED}").text, HERE)
    assert fields is not None
    take_reading(
        shop_of(sheet),
        visit_of(sheet).id,
        {"quantity": "crown-height", "string": 1, "fret": 7, "mm": 0.9},
        ADA,
    )
    refused = sheet.post(HERE, data=fields)
    assert refused.status_code == 422
    assert "fret map has changed since it was shown" in refused.text
    assert levelled(sheet) == []
    other = {"step": '{"adjust": "truss-rod", "turns": 0.25}', "mark": fields["mark"]}
    assert sheet.post(HERE, data=other).status_code == 422


def test_who_only_reads_and_a_visit_that_is_over_have_no_such_form(sheet, monkeypatch):
    sheet.post("/shop/lists/price", data={"kind": "labour", "words": "Fret levelling", "amount": "85"})
    page = sheet.get(f"{HERE}{ASKED}").text
    assert hidden_fields(page, HERE) is not None
    assert CHARGED in page
    with monkeypatch.context() as patched:
        real = render.visitor_of
        patched.setattr(render, "visitor_of", lambda asked: replace(real(asked), role="read-only"))
        page = sheet.get(f"{HERE}{ASKED}").text
    assert "Fret map" in page
    assert hidden_fields(page, HERE) is None
    assert CHARGED not in page
    move_visit(shop_of(sheet), visit_of(sheet), "handed back", ADA)
    page = sheet.get(f"{HERE}{ASKED}").text
    assert "Fret map" in page
    assert hidden_fields(page, HERE) is None
    assert CHARGED not in page
