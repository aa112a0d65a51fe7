"""What the pages say: one unit throughout, figures with their units, and a way on from a refusal."""

import re

import pytest
from starlette.testclient import TestClient

from web_fixtures.opened import workshop_of
from web_fixtures.played import on_the_bench

pytest_plugins = ["web_fixtures.at_hand"]


@pytest.fixture
def in_inches(first_sheet: TestClient) -> TestClient:
    """Return the app as a bench sees it that works in inches."""
    first_sheet.post("/view", data={"units": "inch", "back": "/"})
    return first_sheet


@pytest.mark.parametrize(
    "path", ["plan?part=yes", "strings/swap?diameter-1=.011in", "climate?temperature=30&humidity=20"]
)
def test_a_bench_in_inches_reads_no_millimetres(in_inches: TestClient, path: str):
    page = in_inches.get(f"/visits/1/{path}")
    assert page.status_code == 200
    assert re.findall(r"[^>]*\d mm\b", page.text) == []
    assert re.search(r"\d in\b", page.text)


def test_figures_that_are_left_have_their_units(first_sheet: TestClient):
    page = first_sheet.get("/visits/1/plan?part=yes").text
    left = re.findall(r'<p class="told leave"><strong>.*?</p>', page)
    assert left
    figures = re.findall(r'<strong class="number">(.*?)</strong>', "".join(left))
    assert figures
    assert all(one.endswith((" mm", " cents")) for one in figures)


def test_a_rod_s_turn_is_told_once(first_sheet: TestClient):
    page = first_sheet.get("/visits/1/plan?part=yes").text
    assert "quarter turn" in page
    assert "Turn the screw a quarter turn" not in page
    assert "(a quarter turn)" not in page


def test_a_sheet_without_readings_leads_to_them(bench: TestClient):
    number = on_the_bench(workshop_of(bench).folder)
    summary = bench.get(f"/visits/{number}/summary").text
    assert "Nothing is decided yet" in summary
    assert f'href="/visits/{number}/readings"' in summary
    assert "0 figures inside" not in summary
    assert f'href="/visits/{number}/readings">To the readings' in bench.get(f"/visits/{number}/plan").text


def test_a_page_that_is_nowhere_promises_nothing_typed(bench: TestClient):
    answer = bench.get("/nowhere")
    assert answer.status_code == 404
    assert "There is no such page." in answer.text
    assert "still there" not in answer.text


@pytest.mark.parametrize(
    ("referer", "back"),
    [
        ("http://127.0.0.1:8320/visits/1?a=1", 'href="/visits/1?a=1"'),
        ("http://elsewhere.example/visits/1", None),
        ("http://127.0.0.1:8320//elsewhere.example/", None),
        ("", None),
    ],
)
def test_a_refusal_leads_back_to_where_it_was_typed(first_sheet: TestClient, referer: str, back: str | None):
    answer = first_sheet.post(
        "/visits/1/lines", data={"words": "nut", "amount": "many"}, headers={"referer": referer}
    )
    assert answer.status_code == 422
    assert "still there" in answer.text
    assert ("data-undone" in answer.text) is (back is not None)
    assert back is None or back in answer.text
