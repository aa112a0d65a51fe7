"""Making sheets from an instrument's file: on the command line, in the app and on paper."""

import json
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from breakangle.cli.main import main
from breakangle.documents.renderers.page_text import page_text
from breakangle.documents.renderers.page_units import in_inches
from breakangle.model.errors import CorrectInputError
from breakangle.model.plan import Finding, Where
from breakangle.model.words.message import Message
from breakangle.planning.estimate.diagnosis import patterns
from breakangle.reference.families import families, family
from breakangle.reference.routine import dangers
from breakangle.services.design.budget import designed
from breakangle.services.making.registry import jobs_for, making_job, making_jobs, making_page
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.service_written import write_service

PATTERNS = Path(patterns.__file__).parent
pytest_plugins = ["web_fixtures.at_hand"]
FLAT_TOP = empty_service(family("steel-acoustic-guitar"), "Wheatear")


@pytest.mark.parametrize("name", making_jobs())
@pytest.mark.parametrize(
    "kind", ["steel-acoustic-guitar", "banjo-five", "ukulele-soprano", "twelve-string-guitar"]
)
def test_every_job_can_be_worked_out_for_any_kind(name, kind):
    sheet = making_job(name).sheet(empty_service(family(kind), "one"))
    assert sheet.lead.endswith(".")
    assert all(len(row) == len(sheet.head) for row in sheet.rows)
    assert set(sheet.dangers) <= set(dangers())
    assert kind in families()


def test_a_neck_that_came_forward_is_reset_and_the_wedge_gives_the_saddle_back():
    """Worked out again with the airspace that the wedge makes: the angle is right then, and nothing comes off."""
    job = making_job("neck-angle")
    forward = {"airspace_bass": "-2.8", "airspace_treble": "-2.4"}
    told = job.sheet(FLAT_TOP, forward)
    assert told.figures["reset"]
    assert "specialist" in " ".join(told.rests_on)
    assert min(told.figures["wedge_mm"]) > 0.2
    # 3.5 mm of saddle are wanted: what stood lower is what the reset makes up for.
    gained = [3.5 - one for one in told.figures["saddle_now_mm"]]
    sides = zip(("airspace_bass", "airspace_treble"), gained, strict=True)
    back = {name: f"{float(forward[name]) + mm:.4f}" for name, mm in sides}
    again = job.sheet(FLAT_TOP, back)
    assert not again.figures["reset"]
    assert again.figures["wedge_mm"] == pytest.approx([0.0, 0.0], abs=2e-3)


def test_a_nut_has_equal_gaps_and_every_slot_is_over_the_crown():
    told = making_job("nut").sheet(FLAT_TOP, {"crown": "1.2"})
    widths = [one.diameter_mm for one in reversed(FLAT_TOP.instrument.in_order())]
    rows = [(float(row[2].split()[0]), width) for row, width in zip(told.rows, widths, strict=True)]
    gaps = [b - bw / 2.0 - a - aw / 2.0 for (a, aw), (b, bw) in pairwise(rows)]
    assert max(gaps) - min(gaps) < 0.02, "printed to a hundredth"
    assert all(slot["floor_mm"] > 1.2 for slot in told.figures["slots"])


def test_wider_tangs_bend_the_neck_back_and_equal_ones_do_not():
    job = making_job("refret")
    assert job.sheet(FLAT_TOP).figures["back_bow_mm"] == [0.0, 0.0]
    low, high = job.sheet(FLAT_TOP, {"tang": "0.58", "slot": "0.55"}).figures["back_bow_mm"]
    assert 0.0 < low < high < 0.6


def test_unknown_choices_name_the_known_ones():
    with pytest.raises(CorrectInputError, match="one of spacing"):
        making_job("nut").sheet(FLAT_TOP, {"colour": "red"})
    with pytest.raises(CorrectInputError, match="one of bridge, electrics, neck-angle, nut"):
        making_job("sound-post")


def test_the_verb_lists_prints_and_writes(tmp_path, capsys):
    write_service(tmp_path / "one.json", FLAT_TOP)
    assert main(["make"]) == 0
    listed = capsys.readouterr().out
    assert all(f"{name}:" in listed for name in making_jobs())
    file = str(tmp_path / "one.json")
    assert main(["make", "saddle", file, "--units", "in", "--set", "slot=.2"]) == 0
    assert re.search(r"Blank \d?\.\d+ in high", " ".join(capsys.readouterr().out.split()))
    assert main(["make", "nut", file, "--json", "--sheet", str(tmp_path / "nut.txt")]) == 0
    assert json.loads(capsys.readouterr().out)["job"] == "nut"
    assert "mask of class FFP3" in " ".join((tmp_path / "nut.txt").read_text().split())
    assert main(["make", "nut"]) == 2


@pytest.mark.parametrize("name", making_jobs())
def test_every_sheet_says_its_lengths_in_inches(name):
    for kind in "steel-acoustic-guitar", "electric-guitar":
        sheet = making_job(name).sheet(empty_service(family(kind), "one"), own_unit="in")
        told = page_text(in_inches(making_page(sheet, "one")))
        assert not re.findall(r".*\bmm\b.*|.*millimetre.*", told), (
            "an inch is 25.4 mm, and all lengths turn into it"
        )


def test_what_the_air_does_to_the_action_has_one_unit():
    """Derived: in air of 48 % after 45 % the action rises by 3 times 0.008 mm, 0.024 mm or about 0.001 in."""
    page = making_page(making_job("top").sheet(FLAT_TOP), "one")
    assert "0.02 mm ± 0.03" in page_text(page)
    assert re.search(r"0\.0008 in ± 0\.0012$", page_text(in_inches(page)), re.MULTILINE)


def test_the_page_shows_a_sheet_with_what_was_chosen(bench: TestClient, tmp_path):
    write_service(tmp_path / "one.json", FLAT_TOP)
    bench.post("/visits/new/import", files={"file": ("one.json", (tmp_path / "one.json").read_bytes())})
    every = bench.get("/visits/1/make").text
    assert all(f"/make/{name}" in every for name in making_jobs())
    assert 'id="job-top"' in every
    assert 'id="job-electrics"' not in every  # no pickups as a rule: a line at the end leads there
    assert "Not usual on this kind" in every
    page = bench.get("/visits/1/make/neck-angle?airspace_bass=-2.8&airspace_treble=-2.4&saddle=").text
    assert "Reset: lean the neck back" in page
    assert 'value="-2.8"' in page
    sheet = bench.get("/visits/1/make/neck-angle/sheet.html?airspace_bass=-2.8&airspace_treble=-2.4")
    assert "Reset: lean the neck back" in sheet.text
    assert bench.get("/visits/1/make/nut?crown=quite").status_code == 422
    assert bench.get("/visits/1/make/sound-post").status_code == 422


def test_a_plan_s_findings_lead_to_the_jobs_that_answer_them():
    """Every finding a job names is one that plans can have, and one that is there leads to its job."""
    known = {path.stem.replace("_", "-") for path in PATTERNS.glob("[a-z]*.py")}
    named = {name for job in making_jobs().values() for name in job.findings}
    assert {"neck-reset", "low-slot"} <= named <= known
    there = Finding(
        finding="low-slot", where=Where(strings=(3,), part="nut"), probability=0.9, size=None, tolerance=0.03,
        holds_cuts=True, message=Message(key="diagnosis.low_slot", values={"string": 3, "mm": 0.1}),
    )  # fmt: skip
    assert [job.name for job in jobs_for([there], FLAT_TOP.instrument)] == ["nut"]
    assert jobs_for([there.model_copy(update={"probability": 0.2})], FLAT_TOP.instrument) == ()


def test_one_saddle_breaks_by_one_angle_on_every_sheet():
    """Derived: 3.5 mm over the bridge and 1 mm below its top, 8 mm behind: the arc tangent of 4.5 over 8, 29°."""
    turn = making_job("neck-angle").sheet(FLAT_TOP, {"saddle": "3.5 mm"})
    assert dict(turn.facts)["break angle after"] == "29°"
    assert designed(FLAT_TOP, {"saddle_mm": 3.5}).break_degrees == pytest.approx(29.36, abs=0.005)
    rows = making_job("saddle").sheet(FLAT_TOP).rows
    for row in rows:
        over_mm = float(row[2].split()[0])
        assert float(row[-1][:-1]) == pytest.approx(np.degrees(np.arctan2(over_mm + 1.0, 8.0)), abs=0.55)


def test_a_job_that_asks_for_more_leaves_the_others_to_be_chosen(first_sheet: TestClient, monkeypatch):
    """Where no string begins at the nut its job refuses: it stands there all the same, and its own page says why."""
    jobs = making_jobs()
    instrument = FLAT_TOP.instrument
    strings = tuple(one.model_copy(update={"nut_at_fret": 5}) for one in instrument.strings)
    odd = FLAT_TOP.model_copy(update={"instrument": instrument.model_copy(update={"strings": strings})})
    nut = replace(jobs["nut"], reckon=lambda _, asked: jobs["nut"].reckon(odd, asked))
    changed = jobs | {"nut": nut}
    monkeypatch.setattr("breakangle.web.pages.make.make.making_jobs", lambda: changed)
    monkeypatch.setattr("breakangle.web.pages.make.make.making_job", changed.__getitem__)
    page = first_sheet.get("/visits/1/make")
    assert page.status_code == 200
    assert "/visits/1/make/nut" in page.text
    refused = first_sheet.get("/visits/1/make/nut")
    assert (refused.status_code, "starts at the nut" in refused.text) == (422, True)
