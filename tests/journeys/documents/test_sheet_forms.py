"""The sheet's forms as a browser sends them: corrected, undone, billed, brought in, and never stored twice."""

import re
from io import BytesIO

import pytest
from PIL import Image
from starlette.testclient import TestClient

from breakangle.services.service_files.example import example_text

NEW = {
    "kind": "ukulele-tenor", "name": "Dipper", "owner": "Ida Marlow", "scale_mm": "430", "frets": "18",
    "joint_fret": "14", "spread_nut_mm": "28", "spread_bridge_mm": "42", "complaint": "rattles", "key": "k1",
    "temperature_c": "21", "humidity_percent": "44", "gauge_1": "0.6", "gauge_2": "0.8", "gauge_3": "0.9",
    "gauge_4": "0.7",
}  # fmt: skip


pytest_plugins = ["web_fixtures.at_hand"]


def bring_in(bench: TestClient) -> None:
    sent = bench.post("/visits/new/import", files={"file": ("heron.json", example_text().encode())})
    assert sent.url.path == "/visits/1"


def first_entry(bench: TestClient, words: str) -> str:
    """Return the path of the first entry whose line holds `words`."""
    text = bench.get("/visits/1/entries").text
    found = re.findall(r'href="(/visits/1/entries/\w+)">(.*?)</a>', text, re.DOTALL)
    return next(path for path, line in found if words in line)


def test_a_service_file_brought_in_twice_is_one_visit(bench: TestClient):
    bring_in(bench)
    bring_in(bench)
    assert bench.get("/visits/2").status_code == 404
    spoiled = bench.post("/visits/new/import", files={"file": ("heron.json", b"{")})
    assert spoiled.status_code == 422


def test_an_instrument_taken_in_by_a_form_sent_twice_comes_in_once(bench: TestClient):
    for _ in range(2):
        assert bench.post("/visits/new", data=NEW).url.path == "/visits/1"
    assert bench.get("/visits/2").status_code == 404
    sheet = bench.get("/visits/1").text
    for words in ("Dipper", "Ida Marlow", "rattles", 'value="44"'):
        assert words in sheet


def test_a_wrong_field_is_named_and_what_was_typed_is_still_there(bench: TestClient):
    answer = bench.post("/visits/new", data=NEW | {"scale_mm": "long", "frets": "99"})
    assert answer.status_code == 422
    for words in ("is not a length", 'value="long"', 'value="99"', 'value="Ida Marlow"'):
        assert words in answer.text
    assert bench.get("/visits/1").status_code == 404


def test_a_reading_is_corrected_with_the_reason_and_taken_back(bench: TestClient):
    bring_in(bench)
    path = first_entry(bench, "fret 12")
    nameless = bench.post(f"{path}/correct", data={"text": "1.61", "reason": " "})
    assert nameless.status_code == 422
    bench.post(f"{path}/correct", data={"text": "1.61", "reason": "misread the scale"})
    page = bench.get("/visits/1/entries").text
    assert "1.61" in page
    assert "misread the scale" in page
    again = bench.post(f"{path}/correct", data={"text": "1.62", "reason": "late"})
    assert again.status_code == 409
    instead = first_entry(bench, "misread the scale")
    bench.post(f"{instead}/undo")
    assert "undone" in bench.get("/visits/1/entries").text


def test_a_step_sent_twice_is_done_once_and_other_work_meanwhile_is_asked_about(bench: TestClient):
    bring_in(bench)
    plan = bench.get("/visits/1/plan").text
    step = re.search(r'name="step:1" value="([^"]*)"', plan)
    assert step is not None
    sent = {"step:1": step[1].replace("&#34;", '"'), "done:1": "yes", "done_count": "0", "key": "p1"}
    for _ in range(2):
        assert bench.post("/visits/1/plan/done", data=sent).url.path == "/visits/1/plan"
    other = bench.post("/visits/1/plan/done", data=sent | {"key": "p2", "amount:1": "1/8"})
    assert other.status_code == 409
    assert "has done something on this sheet" in other.text
    assert bench.get("/visits/1").text.count("<li>") >= 1


def test_lines_make_the_bill_and_can_be_removed(bench: TestClient):
    bring_in(bench)
    bench.post("/visits/1/lines", data={"kind": "labour", "words": "set-up", "amount": "65", "quantity": "1"})
    bench.post(
        "/visits/1/lines", data={"kind": "part", "words": "strings", "amount": "12,50", "quantity": "2"}
    )
    sheet = bench.get("/visits/1").text
    assert "90.00" in sheet
    drop = re.search(
        r'action="(/visits/1/lines/\w+/drop)"><input type="hidden" name="version" value="(\d+)"', sheet
    )
    assert drop is not None
    assert bench.post(drop[1], data={"version": "7"}).status_code == 409
    bench.post(drop[1], data={"version": drop[2]})
    assert "90.00" not in bench.get("/visits/1").text
    assert (
        bench.post("/visits/1/lines", data={"kind": "gift", "words": "x", "amount": "1"}).status_code == 422
    )


def test_two_who_move_a_sheet_are_shown_both_states(bench: TestClient):
    bring_in(bench)
    bench.post("/visits/1/state", data={"state": "on the bench", "seen": "waiting"})
    clash = bench.post("/visits/1/state", data={"state": "settling", "seen": "waiting"})
    assert clash.status_code == 409
    assert "It is now: On the bench. You chose: Settling." in clash.text
    assert bench.post("/visits/1/state", data={"state": "lost", "seen": "on the bench"}).status_code == 422


def test_photographs_are_shown_small_and_nothing_else_is_shown_as_one(bench: TestClient):
    bring_in(bench)
    out = BytesIO()
    Image.new("RGB", (900, 600), (120, 80, 40)).save(out, "JPEG")
    bench.post("/visits/1/photographs", files={"photographs": ("nut.jpg", out.getvalue())})
    path = re.search(r'src="(/attachments/\w+)/small"', bench.get("/visits/1").text)
    assert path is not None
    with Image.open(BytesIO(bench.get(f"{path[1]}/small").content)) as small:
        assert max(small.size) == 320
    assert bench.get(path[1]).headers["content-type"] == "image/jpeg"
    for name, content in (
        ("a.jpg", b"no picture"),
        ("a.svg", b"<svg xmlns='http://www.w3.org/2000/svg'/>"),
        ("a.exe", b"MZ"),
    ):
        sent = bench.post("/visits/1/photographs", files={"photographs": (name, content)})
        assert sent.status_code == 422


@pytest.mark.parametrize("air", [{"temperature_c": "hot"}, {"humidity_percent": "140"}, {"hand": "iron"}])
def test_air_that_no_room_has_is_refused(bench: TestClient, air: dict[str, str]):
    bring_in(bench)
    assert bench.post("/visits/1/arrival", data=air).status_code == 422
    assert (
        bench.post(
            "/visits/1/arrival", data={"temperature_c": "19,5", "humidity_percent": "51 %"}
        ).status_code
        == 200
    )


def test_a_bench_s_ways_of_reading_are_remembered_and_change_the_boxes(bench: TestClient):
    bring_in(bench)
    before = bench.get("/visits/1/readings").text
    ways = {
        "order": "string",
        "action_at": "last",
        "action_held": "none",
        "relief_at": "7",
        "nut_held": "bogus",
    }
    after = bench.post("/visits/1/readings/ways", data=ways).text
    assert 'data-reading="gap_6_12_h1"' in before
    assert 'data-reading="gap_6_22"' in after
    assert 'data-reading="gap_6_7_h1-17"' in after
    assert 'data-reading="gap_6_1_h3"' in after


def test_any_kind_of_reading_can_be_added_at_any_place(bench: TestClient):
    bring_in(bench)
    crown = {"quantity": "crown", "string": "6", "fret": "5", "held": "", "harmonic": "", "text": "-0.02"}
    assert 'data-reading="crown_6_5"' in bench.post("/visits/1/readings/other", data=crown).text
    for wrong in ({"string": "7"}, {"fret": "x"}, {"quantity": "weight"}, {"text": "soft"}):
        assert bench.post("/visits/1/readings/other", data=crown | wrong).status_code == 422
