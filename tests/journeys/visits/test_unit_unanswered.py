"""A figure whose unit is doubted: kept as typed, there after a reload, counting for nothing until it is answered."""

import json
import re

import pytest
from starlette.testclient import TestClient

from breakangle.model.errors import CorrectInputError
from breakangle.model.plan import Plan
from breakangle.services.intake.typed_instrument import instrument_typed, usual_typed
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.service_files import bring_in, visit_text
from breakangle.services.workshop.house_targets import set_house_targets
from breakangle.storage.records.entries import entries_of, standing
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand"]
BOX = "gap_6_12_h1"
INCH_MM = 25.4


@pytest.fixture
def empty_sheet(bench: TestClient) -> TestClient:
    """Return the app with sheet 1 in it: the example's instrument, nothing read."""
    data = json.loads(example_text()) | {"readings": []}
    sent = bench.post("/visits/new/import", files={"file": ("in.json", json.dumps(data).encode())})
    assert sent.url.path == "/visits/1"
    return bench


def visit_in(client: TestClient) -> tuple[Shop, Visit]:
    shop = workshop_of(client).shop()
    return shop, shop.every(Visit, number=1)[0]


def typed(client: TestClient, text: str, seen: str = "") -> str:
    answer = client.post("/visits/1/readings/one", data={"box": BOX, "text": text, "seen": seen})
    assert answer.status_code == 200
    return answer.text


def answers(page: str) -> list[str]:
    return re.findall(r'name="answer" value="([^"]+)"', page)


def units_asked(plan: Plan) -> list[str]:
    """Return the questions about units that a plan asks; readings it asks for are questions of another kind."""
    assert {one.ask for one in plan.questions} <= {"reading", "inches"}
    return [one.message.key for one in plan.questions if one.ask == "inches"]


def test_a_doubted_figure_is_kept_as_typed_and_asked_about_with_both_values(empty_sheet: TestClient):
    told = typed(empty_sheet, "0.059")
    assert "Unit unanswered" in told
    assert "0.059 mm (0.06 mm)" in told
    assert "0.059 in (1.50 mm)" in told  # 0.059 × 25.4 = 1.4986
    again = empty_sheet.get("/visits/1/readings").text
    assert answers(again) == answers(told)
    assert re.search(rf'id="in-{BOX}"[^>]*value="0.059"', again)


def test_a_figure_without_a_unit_informs_nothing_until_it_is_answered(empty_sheet: TestClient):
    shop, visit = visit_in(empty_sheet)
    before = solved_visit(shop, visit.id).estimate.belief.mean
    typed(empty_sheet, "0.059")
    solved = solved_visit(shop, visit.id)
    assert (solved.estimate.belief.mean == before).all()
    assert solved.service.readings == ()
    assert solved.plan.questions[0].ask == "inches"
    assert solved.plan.verdict == "read-first"
    assert solved.plan.steps == ()
    assert empty_sheet.get("/visits/1/plan").status_code == 200
    in_inches = answers(empty_sheet.get("/visits/1/readings").text)[1]
    for _ in range(2):
        sent = empty_sheet.post("/visits/1/readings/unit", data={"answer": in_inches})
        assert sent.url.path == "/visits/1/readings"
    (reading,) = service_of(shop, visit.id).readings
    assert reading.model_dump()["mm"] == pytest.approx(0.059 * INCH_MM)
    assert reading.model_dump()["unit"] == "in"
    solved = solved_visit(shop, visit.id)
    assert units_asked(solved.plan) == []
    assert not (solved.estimate.belief.mean == before).all()
    assert "Unit unanswered" not in empty_sheet.get("/visits/1/readings").text


def test_millimetres_may_be_the_answer_and_are_not_asked_about_again(empty_sheet: TestClient):
    typed(empty_sheet, "0.059")
    in_mm = answers(empty_sheet.get("/visits/1/readings").text)[0]
    empty_sheet.post("/visits/1/readings/unit", data={"answer": in_mm})
    shop, visit = visit_in(empty_sheet)
    assert service_of(shop, visit.id).readings[0].model_dump()["mm"] == 0.059
    assert units_asked(solved_visit(shop, visit.id).plan) == []


@pytest.mark.parametrize(
    ("text", "mm"), [("0.059in", 1.4986), ("0.059 mm", 0.059), ("1.5 mm", 1.5), ("1.5", 1.5)]
)
def test_a_figure_with_its_unit_or_without_doubt_is_stored(empty_sheet: TestClient, text: str, mm: float):
    assert "Unit unanswered" not in typed(empty_sheet, text)
    shop, visit = visit_in(empty_sheet)
    assert service_of(shop, visit.id).readings[0].model_dump()["mm"] == pytest.approx(mm)
    assert units_asked(solved_visit(shop, visit.id).plan) == []


def test_a_figure_typed_again_replaces_the_open_question(empty_sheet: TestClient):
    typed(empty_sheet, "0.059")
    seen = answers(empty_sheet.get("/visits/1/readings").text)[0].split("|")[2]
    assert "Unit unanswered" not in typed(empty_sheet, "1.50", seen)
    shop, visit = visit_in(empty_sheet)
    assert [one.model_dump()["mm"] for one in service_of(shop, visit.id).readings] == [1.5]


def test_an_answer_that_was_not_asked_for_is_refused_and_nothing_is_lost(empty_sheet: TestClient):
    typed(empty_sheet, "0.059")
    key, _, entry = answers(empty_sheet.get("/visits/1/readings").text)[0].split("|")
    refused = empty_sheet.post("/visits/1/readings/unit", data={"answer": f"{key}|furlong|{entry}"})
    assert refused.status_code == 422
    assert empty_sheet.post("/visits/1/readings/unit", data={"answer": "nonsense"}).status_code == 422
    shop, visit = visit_in(empty_sheet)
    assert service_of(shop, visit.id).readings[0].model_dump()["typed"] == "0.059"


def in_inches() -> bytes:
    data = json.loads(example_text())
    for one in data["readings"]:
        if "mm" in one:
            one["mm"] = round(one["mm"] / INCH_MM, 3)
    return json.dumps(data).encode()


def test_a_file_wholly_in_inches_is_stored_with_the_question_open_once(bench: TestClient):
    shop = workshop_of(bench).shop()
    first = bring_in(shop, in_inches(), "in.json", ADA)
    assert not bring_in(shop, in_inches(), "in.json", ADA).new_visit
    solved = solved_visit(shop, first.visit.id)
    assert [one.quantity for one in solved.service.readings].count("gap") == 0
    assert solved.plan.questions[0].as_inches is not None
    out = visit_text(shop, first.visit.id)
    assert json.loads(out)["readings"][0]["unit_unanswered"] is True
    assert not bring_in(shop, out.encode(), "out.json", ADA).new_visit


def test_a_reading_corrected_on_its_own_page_is_asked_about(empty_sheet: TestClient):
    typed(empty_sheet, "1.50")
    shop, visit = visit_in(empty_sheet)
    (entry,) = standing(entries_of(shop, visit.id))
    path = f"/visits/1/entries/{entry.id}/correct"
    refused = empty_sheet.post(path, data={"text": "0.059", "reason": "misread"})
    assert refused.status_code == 422
    assert "0.059in or 0.059mm" in refused.text
    assert empty_sheet.post(path, data={"text": "0.059in", "reason": "misread"}).status_code == 200


@pytest.mark.parametrize(
    ("text", "asked"), [("0.055", True), ("1.4", False), ("0.055 in", False), ("0.9", False)]
)
def test_the_houses_own_figures_are_asked_about(bench: TestClient, text: str, asked: bool):
    shop = workshop_of(bench).shop()
    given = {"action_low_mm": text, "action_high_mm": "1.2"}
    if asked:
        with pytest.raises(CorrectInputError, match=r"0\.055in or 0\.055mm"):
            set_house_targets(shop, ADA, "electric-guitar", "medium", given)
    else:
        set_house_targets(shop, ADA, "electric-guitar", "medium", given)


def test_a_spread_of_the_strings_in_inches_is_asked_about_with_the_form():
    spread = {"spread_nut_mm": "1.38"}
    usual = usual_typed("electric-guitar")
    with pytest.raises(CorrectInputError, match=r"1\.38 in \(35\.05 mm\) or 1\.38 mm\? Type 1\.38in"):
        instrument_typed({"name": "Wren"} | spread, base=usual)
    assert instrument_typed(
        {"name": "Wren", "spread_nut_mm": "1.38in"}, base=usual
    ).spread_nut_mm == pytest.approx(35.052)


def test_a_whole_sheet_is_answered_at_once_and_reads_as_it_was_meant(bench: TestClient):
    sent = bench.post("/visits/new/import", files={"file": ("in.json", in_inches())})
    shop, visit = visit_in(bench)
    count = sum("mm" in one for one in json.loads(in_inches())["readings"])
    page = bench.get(sent.url.path + "/readings").text
    assert f"All {count} are in inches" in page
    for _ in range(2):
        bench.post("/visits/1/readings/unit", data={"answer": "every|in|"})
    meant = [one["mm"] for one in json.loads(example_text())["readings"] if "mm" in one]
    read = [one.model_dump()["mm"] for one in service_of(shop, visit.id).readings if one.quantity == "gap"]
    assert read == pytest.approx(meant, abs=0.0005 * INCH_MM)  # rounded to a thousandth of an inch
    assert solved_visit(shop, visit.id).questions == ()
    assert "All" not in re.findall(r'form="unit-answer"[^>]*>([^<]*)', bench.get("/visits/1/readings").text)


def test_a_program_that_sends_inches_is_stored_with_the_question_open(empty_sheet: TestClient):
    reading = {"quantity": "gap", "string": 6, "fret": 12, "held": [1], "mm": 0.059}
    sent = empty_sheet.post("/api/visits/1/readings", json=reading)
    assert sent.status_code == 201
    assert sent.json()["unit_unanswered"] is True
    said = empty_sheet.post("/api/visits/1/readings", json=reading | {"mm": 1.5})
    assert "unit_unanswered" not in said.json()
