"""Fret work from readings to the sheet: on the command line, in the app, and where a plan leads to it."""

import json

import numpy as np
import pytest
from starlette.testclient import TestClient

from breakangle.cli.main import main
from breakangle.model.service import Service
from breakangle.planning.kinds.readings.crown_dial import CrownDial
from breakangle.planning.kinds.readings.crown_height import CrownHeight
from breakangle.services.frets.levelling import fret_work
from breakangle.services.service_files.example import example_service
from breakangle.services.service_files.service_written import write_service

pytest_plugins = ["web_fixtures.at_hand"]
PROUD, PROUD_MM = 9, 0.12


def read_by_dial(height: bool = True) -> Service:
    """The example with every crown read by a dial: level but for fret 9, on a neck with relief."""
    one = example_service()
    frets = one.instrument.frets
    bow = [-0.15 * (1.0 - (fret / 10.0 - 1.0) ** 2) if fret < 20 else 0.0 for fret in range(frets)]
    read = [
        CrownDial(string=string, fret=fret, mm=round(bow[fret - 1] + PROUD_MM * (fret == PROUD), 3))
        for string in range(1, 7)
        for fret in range(2, frets)
    ]
    crowns = [CrownHeight(string=1, fret=5, mm=1.1)] if height else []
    return one.model_copy(update={"readings": (*one.readings, *read, *crowns)})


@pytest.fixture(scope="module")
def told() -> dict:
    return fret_work(read_by_dial(), "light", (2.2, 1.9)).to_json()


def test_a_proud_crown_read_by_dial_is_what_is_levelled(told):
    assert told["verdict"] == "spot-level"
    assert PROUD in told["frets"]
    off = np.array(told["off_mm"])
    assert off[:, PROUD - 1].sum() > 0.8 * off.sum()
    assert off.max() < PROUD_MM + 0.03
    assert told["touch_after"] <= 0.01 < told["touch_before"]


def test_nothing_is_filed_before_it_was_read(tmp_path, capsys):
    write_service(tmp_path / "one.json", example_service())
    assert main(["frets", str(tmp_path / "one.json")]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "Nothing is filed yet" in said
    assert "no file before that" in said
    assert "Metal off each crown" not in said
    assert not fret_work(example_service()).orders


def test_without_the_crowns_height_no_metal_is_ordered():
    work = fret_work(read_by_dial(height=False), "light", (2.2, 1.9))
    assert not work.orders
    assert work.to_json()["read_first"]["height"] is True


def test_the_verb_prints_the_map_with_its_cautions_and_writes_the_sheet(tmp_path, capsys):
    write_service(tmp_path / "one.json", read_by_dial())
    sheet = tmp_path / "sheet.txt"
    words = ["frets", str(tmp_path / "one.json"), "--strength", "light", "--action", "2.2/1.9"]
    assert main([*words, "--sheet", str(sheet)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert f"Level fret {PROUD}" in said or f"{PROUD}" in said.split("Level frets", 1)[1][:30]
    for danger in ("mask", "Eye protection", "clean at light play"):
        assert danger in said
    text = sheet.read_text()
    assert "Levelling sheet" in text
    assert "never lower than" in text
    assert main([*words, "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["format"] == "breakangle/frets/1"
    assert main([*words[:2], "--action", "0.055"]) == 2
    assert main([*words, "--units", "in", "--action", "0.087/0.075"]) == 1
    assert "in inches" in capsys.readouterr().out


def test_the_page_shows_the_map_and_sends_the_sheet(bench: TestClient, tmp_path):
    write_service(tmp_path / "one.json", read_by_dial())
    sent = bench.post(
        "/visits/new/import", files={"file": ("one.json", (tmp_path / "one.json").read_bytes())}
    )
    assert sent.url.path == "/visits/1"
    asked = "?strength=light&low=2.2&high=1.9"
    page = bench.get(f"/visits/1/frets{asked}").text
    assert "Fret map" in page
    assert "mask" in page
    assert f'<th scope="row">{PROUD}</th>' in page
    sheet = bench.get(f"/visits/1/frets/levelling.html{asked}")
    assert sheet.status_code == 200
    assert "Levelling sheet" in sheet.text
    assert bench.get("/visits/1/frets?low=quite").status_code == 422
    steps = bench.get("/visits/1/procedures/fret-levelling")
    assert steps.status_code == 200


def test_a_plan_that_finds_a_high_fret_leads_to_the_fret_work(bench: TestClient, tmp_path):
    write_service(tmp_path / "one.json", read_by_dial())
    bench.post("/visits/new/import", files={"file": ("one.json", (tmp_path / "one.json").read_bytes())})
    page = bench.get("/visits/1/plan").text
    assert "High fret" in page
    assert "What is wrong with the frets" in page
    assert 'href="/visits/1/frets"' in page
