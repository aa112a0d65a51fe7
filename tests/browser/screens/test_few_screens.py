"""A job in few screens: price and promise at take-in, on to the readings, and at hand-back all that stands open."""

import re

import pytest
from starlette.testclient import TestClient

from breakangle.storage.records.records import Line, Visit
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]


def form_of(bench: TestClient, kind: str) -> dict[str, str]:
    """Return what the form of a new instrument sends when nothing is typed."""
    page = bench.get(f"/visits/new?kind={kind}").text
    fields: dict[str, str] = {}
    for one in re.findall(r"<input[^>]*>", page):
        found = re.search(r' name="([\w-]+)".* value="([^"]*)"', one)
        if found is not None and "checkbox" not in one:
            fields[found[1]] = found[2]
    for name, options in re.findall(r'<select[^>]* name="([\w-]+)"[^>]*>(.*?)</select>', page, re.S):
        chosen = re.search(r'value="([^"]*)" selected', options)
        fields[name] = chosen[1] if chosen else ""
    return fields


@pytest.fixture
def taken_in(bench: TestClient) -> TestClient:
    """Return the app with a ukulele that was taken in and is to be read at once."""
    sent = form_of(bench, "ukulele-concert") | {
        "name": "Chiffchaff", "owner": "Nell Ashby", "price": "40", "complaint": "hard to hold down",
        "complaint_what": "hard-to-play", "then": "readings",
    }  # fmt: skip
    answer = bench.post("/visits/new", data=sent, follow_redirects=False)
    assert answer.headers["location"].endswith("/visits/1/readings")
    return bench


def test_taken_in_to_be_read_it_is_on_the_bench_with_its_price(taken_in: TestClient):
    shop = workshop_of(taken_in).shop()
    assert shop.every(Visit)[0].state == "on the bench"
    assert [(one.words, str(one.amount)) for one in shop.every(Line)] == [("Agreed price", "40")]


def test_a_price_that_is_none_is_refused_and_nothing_is_stored(bench: TestClient):
    sent = form_of(bench, "ukulele-concert") | {"name": "Chiffchaff", "price": "forty"}
    answer = bench.post("/visits/new", data=sent)
    assert answer.status_code == 422
    assert "the agreed price" in answer.text.lower()
    assert workshop_of(bench).shop().every(Visit) == ()


@pytest.mark.parametrize(
    ("kind", "has", "lacks"),
    [
        ("ukulele-concert", (), ("f-rod", "f-turns_left", "f-rod_reached_from", "f-height_mm_per_turn")),
        ("banjo-five", ("f-rod",), ("f-height_mm_per_turn", "f-position_mm_per_turn")),
        ("electric-guitar", ("f-rod", "f-height_mm_per_turn", "f-position_mm_per_turn"), ()),
    ],
)
def test_what_the_family_lacks_is_not_asked_for(bench: TestClient, kind: str, has: tuple, lacks: tuple):
    page = bench.get(f"/visits/new?kind={kind}").text
    assert [one for one in has if f'id="{one}"' not in page] == []
    assert [one for one in lacks if f'id="{one}"' in page] == []
    assert ("electrics" in page) == (kind == "electric-guitar")


def test_no_work_is_listed_that_has_no_step_for_the_instrument(taken_in: TestClient):
    listed = taken_in.get("/visits/1/work").text
    assert 'value="restring"' in listed
    assert 'value="electronics-check"' not in listed


def test_the_hand_back_page_takes_the_answer_and_what_was_done(taken_in: TestClient):
    page = taken_in.get("/visits/1/hand-back").text
    seen = re.search(r'name="answer:1:seen" value="([^"]+)"', page)
    assert seen is not None
    sent = {
        "answer:1:seen": seen[1].replace("&#34;", '"'), "answer:1:outcome": "gone", "answer:1:checked": "by-ear",
        "answer:1:cause": "a high nut", "did:restring": "yes", "signed_by": "Ada Reed",
    }  # fmt: skip
    again = taken_in.post("/visits/1/hand-back", data=sent)
    assert again.status_code == 422  # nothing was read: that is asked still
    assert 'name="answer:1:outcome"' not in again.text
    assert 'name="did:restring"' not in again.text
    reasons = dict.fromkeys(re.findall(r'name="(reason:[^"]+)"', again.text), "the owner wants it back")
    closed = taken_in.post("/visits/1/hand-back", data={"signed_by": "Ada Reed"} | reasons)
    assert closed.status_code == 200
    text = " ".join(taken_in.get("/visits/1/paper/hand-back.txt").text.split())
    assert "It is gone, checked by ear." in text and "Cause: A high nut." in text
