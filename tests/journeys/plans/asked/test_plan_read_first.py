"""A plan that waits for readings: said first, with what waits for it, on terminal, screen and paper."""

import io
import json
import re
from datetime import date

import pytest
from rich.console import Console
from starlette.testclient import TestClient

from breakangle.cli.render.pages.plan import print_plan
from breakangle.cli.render.units import Units
from breakangle.documents.renderers.page import Letterhead, Paragraph, Points
from breakangle.documents.sheets.bench_sheet import BenchSheet, bench_sheet_page
from breakangle.model.pitch import note_hz
from breakangle.services.plans.solved_visits import Solved
from breakangle.services.service_files.example import example_service, example_text
from breakangle.services.service_files.service import plan_service, service_from
from plan_asking import asking
from planning_cases import good, made_of, only, ordinary, service_reading

pytest_plugins = ["web_fixtures.at_hand"]

FIRST = "Read first: action, string 6, fret 12 with fret 1 held; it decides what comes next."
WAITS = "nut slot, strings 5 and 6; saddle height, bass end"


def page() -> str:
    service, out = good(), io.StringIO()
    print_plan(Console(file=out, width=400), service, asking(made_of(service)), Units("mm"))
    return out.getvalue()


def test_the_terminal_says_first_what_to_read_and_what_waits():
    lines = [line.rstrip() for line in page().splitlines()]
    assert lines[1] == FIRST
    assert lines[2] == f"Not done before that is read: {WAITS}."
    asked = [line.strip() for line in lines if re.match(r" *\(\d\)", line)]
    assert len(asked) == 2
    assert asked[0].endswith("15 s. Waits for it: nut slot, strings 5 and 6.")
    assert not any(line.startswith("Trip") for line in lines)


def test_the_terminal_groups_steps_by_trip():
    def wish(target):  # type: ignore[no-untyped-def]
        return 3.0 if target.quantity == "intonation" else only("action", 3.0)(target)

    service, out = service_reading(ordinary("electric-guitar"), wish), io.StringIO()
    made = made_of(service)
    print_plan(Console(file=out, width=400), service, made, Units("in"))
    text = out.getvalue()
    heads = re.findall(r"^Trip (\d) of (\d): (.+?) *$", text, re.MULTILINE)
    assert heads == [("1", "2", "heights at the bridge"), ("2", "2", "up to pitch, settle, intonation")]
    assert re.search(
        r"^About \d+ min\. Slacken: no\. Tools: key or screwdriver for the bridge", text, re.MULTILINE
    )
    assert text.count("At the end read:") == 1  # heights are read once the strings have settled
    assert " mm" not in text.replace("mm per mm", "")  # a ratio has no unit to change
    numbers = [int(one) for one in re.findall(r"^(\d+)\. ", text, re.MULTILINE)]
    assert numbers == list(range(1, len(made.steps) + 1))


@pytest.fixture
def brought_in(bench: TestClient) -> TestClient:
    sent = bench.post("/visits/new/import", files={"file": ("marram.json", example_text().encode())})
    assert sent.url.path == "/visits/1"
    return bench


def test_the_screen_shows_each_trip_with_its_steps_and_what_to_read_between_turns(brought_in: TestClient):
    text = brought_in.get("/visits/1/plan").text
    made = plan_service(example_service())
    assert len(re.findall(r'<section class="trip card"', text)) == len(made.trips) > 1
    for words in (
        "the nut slot of string 3 must wait until the rod is set and relief is read",
        f"Trip 1 of {len(made.trips)}: strings at pitch",
        "only where the maker says so",
        "At the end it should read",
    ):
        assert words in text
    # Every step is a line to tick, and between turns of the rod it is said what to read.
    assert len(re.findall(r'<input type="checkbox" name="done:', text)) == len(made.steps) > 2
    turns = [step for step in made.steps if step.adjustment.adjust == "rod"]
    assert text.count("Read now; it should be") >= len(turns) - 1


def test_the_screen_says_first_what_to_read(brought_in: TestClient, monkeypatch: pytest.MonkeyPatch):
    found = Solved.__dict__["plan"]
    monkeypatch.setattr(Solved, "plan", property(lambda solved: asking(found.__get__(solved, Solved))))
    text = brought_in.get("/visits/1/plan?part=yes").text
    assert FIRST in text
    assert WAITS in text
    assert text.index(FIRST) < text.index("Answer first") < text.index("Before, and after the plan")
    assert "nothing is cut before it is answered" in text
    assert '<section class="trip card"' not in text


def printed(verdict_first: bool) -> list[str]:
    service = service_reading(ordinary("electric-guitar"), only("action", 3.0, 6))
    plan = asking(made_of(service)) if verdict_first else made_of(service)
    given = BenchSheet(
        Letterhead("Invented Bench"), 1, "Ida Marlow", "buzzes", date(2024, 5, 1), service, plan
    )
    words: list[str] = []
    for block in bench_sheet_page(given).blocks:
        words += (
            [block.text]
            if isinstance(block, Paragraph)
            else list(block.items)
            if isinstance(block, Points)
            else []
        )
    return words


def test_the_bench_sheet_groups_steps_by_trip():
    words = printed(verdict_first=False)
    assert "Trip 1 of 2: heights at the bridge" in words
    assert any(one.startswith("At the end read: action, string 6, fret 12") for one in words)
    assert any("Lower the saddle at string 6" in one and "Done: ____" in one for one in words)


def test_the_bench_sheet_has_a_line_for_each_reading_asked_for_first():
    words = printed(verdict_first=True)
    assert FIRST in words
    assert sum("Read: ____" in one for one in words) == 2


NEAR = {
    "quantity": "gap",
    "string": 3,
    "fret": 12,
    "held": [1],
    "mm": 1.17,
}  # its edge is at 1.15: 1.25 ± 0.10


def right_but_for(text_of_third: dict[str, object]) -> bytes:
    """Return an electric guitar read as it is wanted, the third string's action as given."""
    data = json.loads(example_text("electric-guitar"))
    wanted = (1.15, 1.20, 1.25, 1.30, 1.35, 1.40)
    data["readings"] = [
        *({"quantity": "gap", "string": one, "fret": 8, "held": [1, 17], "mm": 0.30} for one in (6, 1)),
        *(
            {"quantity": "gap", "string": at, "fret": 12, "held": [1], "mm": mm}
            for at, mm in enumerate(wanted, start=1)
            if at != 3
        ),
        text_of_third,
        *({"quantity": "gap", "string": one, "fret": 1, "held": [3], "mm": 0.05} for one in range(1, 7)),
        *(
            {
                "quantity": "pitch",
                "string": one["string"],
                "fret": fret,
                "hz": note_hz(one["note"]) * (2 if fret else 1),
            }
            for one in data["instrument"]["strings"]
            for fret in (0, 12)
        ),
    ]
    return json.dumps(data).encode()


def test_what_is_inside_and_near_an_edge_is_left_and_keeps_nothing_back(bench: TestClient):
    """A plan that says to leave it asks for no answer first, and no reason is wanted as the instrument goes back."""
    sent = bench.post("/visits/new/import", files={"file": ("fen.json", right_but_for(NEAR))})
    assert sent.url.path == "/visits/1"
    text = bench.get("/visits/1/plan?part=yes").text
    assert "To be surer" in text
    assert "Answer first" not in text
    assert "<h2>To be surer</h2>" in bench.get("/visits/1/plan").text
    assert 'name="reason:readings"' not in bench.get("/visits/1/hand-back").text
    service = service_from(right_but_for(NEAR), "fen.json")
    out = io.StringIO()
    print_plan(Console(file=out, width=400), service, plan_service(service), Units("mm"))
    assert "To be surer" in out.getvalue()


def test_what_the_others_contradict_is_answered_first(bench: TestClient):
    bench.post("/visits/new/import", files={"file": ("fen.json", right_but_for(NEAR | {"mm": 2.4}))})
    text = bench.get("/visits/1/plan?part=yes").text
    assert "Answer first" in text
    assert "To be surer" not in text
    assert 'name="reason:readings"' in bench.get("/visits/1/hand-back").text
