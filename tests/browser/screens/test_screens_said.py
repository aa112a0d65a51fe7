"""What the pages say: one unit throughout, figures with their units, and a way on from a refusal."""

import re

import pytest
from starlette.testclient import TestClient

from breakangle.services.visits.entries import do_adjustment, take_reading
from breakangle.services.visits.visits import visit_numbered
from breakangle.services.workshop.opening import shop_at
from shop_fixtures.people import ADA
from web_fixtures.opened import workshop_of
from web_fixtures.played import on_the_bench

pytest_plugins = ["web_fixtures.at_hand"]


@pytest.fixture
def in_inches(first_sheet: TestClient) -> TestClient:
    """Return the app as a bench sees it that works in inches."""
    first_sheet.post("/view", data={"units": "inch", "back": "/"})
    return first_sheet


@pytest.mark.parametrize(
    "path",
    [
        "plan?part=yes", "strings/swap?diameter-1=.011in", "climate?temperature=30&humidity=20", "readings",
        "make/bridge", "make/refret",
    ],
)  # fmt: skip
def test_a_bench_in_inches_reads_no_millimetres(in_inches: TestClient, path: str):
    page = in_inches.get(f"/visits/1/{path}")
    assert page.status_code == 200
    assert re.findall(r"[^>]*(?:\d mm\b|\(mm\))", page.text) == []
    assert re.search(r"\d in\b", page.text)


def test_try_out_and_buzz_map_begin_at_the_visit_s_own_strength(first_sheet: TestClient):
    was = {"was_temperature_c": "", "was_humidity_percent": "", "was_hand": ""}
    for strength in "heavy", "light":
        sent = first_sheet.post("/visits/1/arrival", data=was | {"hand": strength})
        assert sent.status_code == 200
        was["was_hand"] = strength
        assert f'<option value="{strength}" selected' in first_sheet.get("/visits/1/try").text
        board = first_sheet.get("/visits/1/board/buzz").text
        assert re.findall(r'aria-current="true" href="[^"]*strength=(\w+)"', board) == [strength]


@pytest.mark.parametrize("path", ["drawing?plan=yes", "board/buzz"])
def test_every_link_of_a_drawing_s_own_page_leads_somewhere(first_sheet: TestClient, path: str):
    links = set(re.findall(r'href="([^"#]+)"', first_sheet.get(f"/visits/1/{path}").text))
    assert len([one for one in links if path.partition("?")[0] in one]) >= 3
    assert [one for one in links if first_sheet.get(one.replace("&amp;", "&")).status_code != 200] == []


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


def test_a_sheet_says_when_its_figures_were_not_read_since_the_work(first_sheet: TestClient):
    summary = "/visits/1/summary"
    said = "Nothing was read since the last of the work"
    assert said not in first_sheet.get(summary).text
    shop = shop_at(workshop_of(first_sheet).folder)
    visit = visit_numbered(shop, 1)
    do_adjustment(shop, visit.id, {"adjust": "rod", "turns": 0.125}, ADA)
    assert said in first_sheet.get(summary).text
    take_reading(shop, visit.id, {"quantity": "gap", "string": 6, "fret": 12, "held": [1], "mm": 1.9}, ADA)
    shop.close()
    assert said not in first_sheet.get(summary).text


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


@pytest.mark.parametrize("typed", ["880", "880 Hz", "-400", "300 c"])
def test_a_pitch_far_from_its_note_is_refused_in_words(first_sheet: TestClient, typed: str):
    page = first_sheet.post("/visits/1/readings", data={"box:pitch_6_0": typed, "was:pitch_6_0": ""})
    told = re.search(r'id="told-pitch_6_0".*?</div>', page.text, re.DOTALL)
    assert told is not None
    # Equal temperament: E2 is 82.41 Hz with A4 at 440 (ISO 16), and 250 cents are a ratio of 2 ^ (250 / 1200).
    assert "is far from the note" in told[0]
    assert "from −250 to 250 cents, or 71.33 to 95.21 Hz" in told[0]
    assert "$." not in told[0]


def test_a_length_out_of_range_is_refused_in_the_visitor_s_unit(in_inches: TestClient):
    page = in_inches.post("/visits/1/readings", data={"box:gap_6_12_h1": "2.5", "was:gap_6_12_h1": ""}).text
    assert "from -0.039 to 0.590 in" in page  # -1 to 15 mm, in inches of 25.4 mm
    assert "if you meant 2.5 mm or 2.5 thou" in page.lower()
