"""A sheet on which one figure's unit is open: others that may be so are asked about, nothing is found."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.unit_said import unit_open
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.reference.families import family
from breakangle.reference.messages import words
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.readings.entry_words import reading_words
from breakangle.services.service_files.example import example_text, usual_instrument
from breakangle.services.service_files.service import plan_service
from breakangle.services.visits.entries import service_of
from breakangle.storage.records.records import Visit
from web_fixtures.opened import workshop_of

pytest_plugins = ["web_fixtures.at_hand", "shop_fixtures.shops", "shop_fixtures.command_line"]
Run = Callable[..., str]
RELIEF, ACTION = "gap_1_8_h1-17", "gap_{string}_12_h1"
# An inch user's sheet: relief, then actions in inches, as a fraction, in bare 64ths of a ruler, and one in mm.
ACTIONS = (".071", "5/64", "5", "4", "1.8")


@pytest.fixture(params=["first visit", "returning"])
def sheet(request: pytest.FixtureRequest, bench: TestClient) -> TestClient:
    """Return the app with an empty last sheet of the example's instrument, here for the first time or again."""
    data = json.loads(example_text())
    if request.param == "first visit":
        data["readings"] = []
    bench.post("/visits/new/import", files={"file": ("in.json", json.dumps(data).encode())})
    if request.param == "returning":
        (visit,) = workshop_of(bench).shop().every(Visit)
        bench.post("/visits/new", data={"instrument": visit.instrument_id, "complaint": "buzzes"})
    return bench


def last_visit(client: TestClient) -> Visit:
    return max(workshop_of(client).shop().every(Visit), key=lambda one: one.number)


def typed(client: TestClient, box: str, text: str) -> str:
    path = f"/visits/{last_visit(client).number}/readings/one"
    answer = client.post(path, data={"box": box, "text": text, "seen": ""})
    assert answer.status_code == 200, answer.text
    return answer.text


def test_bare_64ths_beside_a_doubted_figure_are_asked_about(sheet: TestClient):
    told = {}
    typed(sheet, RELIEF, "0.010")
    for string, text in enumerate(ACTIONS, start=1):
        told[text] = "Unit unanswered" in typed(sheet, ACTION.format(string=string), text)
    assert told == {".071": True, "5/64": False, "5": True, "4": True, "1.8": False}


def test_nothing_is_called_beyond_or_right_while_a_unit_is_open(sheet: TestClient):
    typed(sheet, RELIEF, "0.010")
    for string, text in enumerate(ACTIONS, start=1):
        typed(sheet, ACTION.format(string=string), text)
    shop, visit = workshop_of(sheet).shop(), last_visit(sheet)
    assert any(unit_open(one) for one in service_of(shop, visit.id).readings)
    plan = solved_visit(shop, visit.id).plan
    assert plan.verdict == ("adjust" if plan.steps else "read-first")
    assert plan.findings == ()
    assert not [one for one in plan.notes if "Beyond" in one]
    page = sheet.get(f"/visits/{visit.number}/plan").text
    assert "Beyond a set-up" not in page
    assert "needs more than a set-up" not in page


@pytest.mark.parametrize("kind", ["steel-acoustic-guitar", "mandolin", "electric-guitar"])
def test_high_actions_alone_find_nothing_while_a_unit_is_open(kind: str):
    # Actions that a person said to be mm, so high that they alone speak of the neck; relief and string 1 are open.
    high = {2: 5.0, 4: 4.0, 5: 4.5}
    said = [Gap(string=string, fret=12, held=(1,), mm=mm, unit="mm") for string, mm in high.items()]
    open_ones = [Gap(string=1, fret=12, held=(1,), mm=0.071), Gap(string=1, fret=8, held=(1, 17), mm=0.01)]
    instrument = usual_instrument(family(kind), "Wren")
    without = plan_service(Service(instrument=instrument, readings=tuple(said)))
    plan = plan_service(Service(instrument=instrument, readings=(*open_ones, *said)))
    assert without.verdict == "read-first"
    assert without.findings
    assert plan.verdict == ("adjust" if plan.steps else "read-first")
    assert plan.findings == ()
    assert not [one for one in plan.notes if one.startswith("Beyond a set-up")]
    assert plan.questions[0].ask == "inches"


@pytest.mark.parametrize(
    "bare", [Gap(string=2, fret=12, held=(1,), mm=3.0), Gap(string=1, fret=8, held=(1, 17), mm=0.02)]
)
def test_a_unit_said_in_inches_makes_a_bare_figure_of_the_same_sheet_suspect(bare: Gap):
    instrument = usual_instrument(family("electric-guitar"), "Wren")
    alone = plan_service(Service(instrument=instrument, readings=(bare,)))
    said = Gap(string=1, fret=12, held=(1,), mm=1.8034, unit="in")
    beside = plan_service(Service(instrument=instrument, readings=(said, bare)))
    assert "inches" not in [one.ask for one in alone.questions]
    assert beside.questions[0].ask == "inches"
    assert beside.questions[0].readings == (bare,)


def test_a_relief_ten_times_too_wide_may_be_a_slip_of_the_decimal_point(sheet: TestClient):
    told = typed(sheet, RELIEF, "3.0")
    assert "slip of the decimal point: 0.30 mm" in told
    assert "3.0 thousandths of an inch (0.08 mm)" in told  # 3 × 0.0254 = 0.0762
    visit = last_visit(sheet)
    page = sheet.get(f"/visits/{visit.number}/readings").text
    assert "slip of the decimal point: 0.30 mm" in page
    solved = solved_visit(workshop_of(sheet).shop(), visit.id)
    (question,) = (one for one in solved.plan.questions if one.ask == "inches")
    assert "slip of the decimal point" in words(question.message)
    assert "0.30 mm" in words(question.message)
    answer = re.findall(r'name="answer" value="([^"]+\|thou\|[^"]+)"', page)[0]
    sheet.post(f"/visits/{visit.number}/readings/unit", data={"answer": answer})
    page = sheet.get(f"/visits/{visit.number}/readings").text
    assert "slip of the decimal point" not in page


def test_a_relief_that_is_refused_as_words_names_the_slip_of_the_decimal_point():
    service = Service(instrument=usual_instrument(family("electric-guitar"), "Wren"))
    with pytest.raises(
        CorrectInputError, match=r"or 0\.3 mm, a slip of the decimal point\? Type .* or 0\.3mm"
    ):
        reading_words(["relief", "1", "3.0"], service)
    with pytest.raises(CorrectInputError) as refused:
        reading_words(["action", "1", "0.071"], service)
    assert "decimal" not in str(refused.value)


def in_inches() -> bytes:
    data = json.loads(example_text())
    for one in data["readings"]:
        if "mm" in one:
            one["mm"] = round(one["mm"] / 25.4, 3)
    return json.dumps(data).encode()


def test_a_file_with_doubted_figures_is_taken_in_with_its_question_said(run: Run, tmp_path: Path):
    doubted, plain = tmp_path / "in.json", tmp_path / "mm.json"
    doubted.write_bytes(in_inches())
    plain.write_text(example_text(), encoding="utf-8")
    said = " ".join(run("take-in", str(doubted)).split())
    assert "new entries" in said
    assert "far likelier: did you mean inches?" in said
    assert "readings page of sheet 1" in said
    assert "did you mean" not in run("take-in", str(plain), "--instrument", "new")


def test_a_file_with_doubted_figures_brought_in_on_the_screen_shows_its_question(bench: TestClient):
    sent = bench.post("/visits/new/import", files={"file": ("in.json", in_inches())})
    assert sent.status_code == 200
    assert "did you mean inches?" in sent.text
