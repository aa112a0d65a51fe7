"""Readings and adjustments typed as words: trade words, near misses, slips; a doubted figure is asked about."""

import json

import pytest

from breakangle.cli.main import main
from breakangle.services.service_files.example import example_text


@pytest.fixture
def run(capsys, tmp_path, monkeypatch):
    """Return what runs one command in a shop of its own, where the example instrument is sheet 1."""
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BREAKANGLE_WHO", "Ada")
    monkeypatch.delenv("BREAKANGLE_DATABASE_URL", raising=False)
    (tmp_path / "in.json").write_text(example_text(), encoding="utf-8")
    assert main(["take-in", str(tmp_path / "in.json")]) == 0
    capsys.readouterr()

    def ran(*words: str, code: int = 0) -> str:
        assert main(list(words)) == code, capsys.readouterr().err
        said = capsys.readouterr()
        return str(said.err if code == 2 else said.out)

    return ran


def stored(run, *words: str) -> dict:
    return dict(json.loads(run("read", "1", *words).split(" ", 1)[1]))


@pytest.mark.parametrize(
    ("words", "body"),
    [
        # 0.012 in = 0.3048 mm and 5/64 in = 1.984375 mm: an inch is 25.4 mm exactly (international yard, 1959).
        (("relief", "6", ".012in"), {"string": 6, "fret": 8, "held": [1, 17], "mm": 0.3048}),
        (("action", "1", "5/64"), {"string": 1, "fret": 12, "held": [1], "mm": 1.9844}),
        (("action", "1", "5/64", "in"), {"string": 1, "fret": 12, "held": [1], "mm": 1.9844}),
        (("nut", "string=3", "mm=0,12mm"), {"string": 3, "fret": 1, "held": [3], "mm": 0.12}),
        (("relief", "6", "0.25", "held=1,15"), {"string": 6, "fret": 8, "held": [1, 15], "mm": 0.25}),
        (("gap", "string=6", "fret=12", "held=open", "mm=1.9"), {"fret": 12, "held": [], "mm": 1.9}),
        (("pitch", "string=6", "fret=12", "cents=+2,5"), {"fret": 12, "cents": 2.5}),
    ],
)
def test_a_reading_is_typed_as_the_trade_says_it(run, words, body):
    found = stored(run, *words)
    assert {key: found[key] for key in body} == body
    assert found["quantity"] == ("pitch" if words[0] == "pitch" else "gap")


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (("gap", "string=6", "fret=12", "hold=1", "mm=1.8"), "did you mean held=1?"),
        (("gap", "strin=6", "fret=12", "held=1", "mm=1.8"), "did you mean string=6?"),
        (("gap", "string=6", "frets=12", "held=1", "mm=1.8"), "did you mean fret=12?"),
        (("gap", "string=6", "fret=12", "mm=1.8"), "held=1 for action, held=1,17 for relief"),
        (("gap", "string=E", "fret=12", "held=1", "mm=1.8"), "type string=1 (E4) or string=6 (E2)"),
        (("action", "a", "1.8"), "type string=5 (A2)"),
        (("gap", "string=6", "fret=8", "held=1+17", "mm=0.3"), "type held=1,17"),
        (("gap", "string=6", "fret=8", "held=1,17", "mm=3 furlongs"), "is not a length"),
        (("pitch", "string=6", "fret=12", "cents=150"), "did you mean another fret, or 15?"),
        (('{"quantity": "relief", "string": 6, "mm": 0.3}',), '"fret": 8, "held": [1, 17]'),
        (('{"quantity": "gap", "string": 6, "fret": 12, "held": [1], "mm": 1,5}',), "write 1.5"),
        (("relief", "6"), "relief 6 .012in"),
    ],
)
def test_a_near_miss_is_refused_with_what_was_meant(run, words, meant):
    before = run("visit", "1")
    told = run("read", "1", *words, code=2)
    assert meant in told
    assert told.count("\n") == 1
    assert run("visit", "1") == before


@pytest.mark.parametrize(
    ("words", "forms"),
    [
        (("action", "6", "0.059"), "0.059 in (1.50 mm) or 0.059 mm? Type 0.059in or 0.059mm"),
        (("gap", "string=6", "fret=12", "held=1", "mm=.070"), "Type 0.07in or 0.07mm"),
        (("action", "6", "5"), "Type 5/64 or 5mm"),
        (("relief", "6", "12"), "Type 12thou or 12mm"),
        (('{"quantity": "gap", "string": 6, "fret": 12, "held": [1], "mm": 0.059}',), "0.059in or 0.059mm"),
    ],
)
def test_a_figure_likely_meant_in_inches_is_refused_with_both_forms(run, words, forms):
    before = run("visit", "1")
    assert forms.lower() in run("read", "1", *words, code=2).lower()
    assert run("visit", "1") == before


def test_a_figure_with_its_unit_is_never_questioned_then_or_later(run, tmp_path):
    assert stored(run, "action", "6", "0.059in")["mm"] == pytest.approx(1.4986)
    body = stored(run, "action", "6", "0.059mm")
    assert (body["mm"], body["unit"]) == (0.059, "mm")
    assert stored(run, "relief", "1", "12", "--as-typed")["mm"] == 12.0
    run("visit", "1", "--file", str(tmp_path / "out.json"))
    assert "did you mean" not in run("predict", str(tmp_path / "out.json"))


def test_turns_are_typed_as_fractions_and_slips_are_asked_about(run):
    assert json.loads(run("work", "1", "rod", "turns=1/4").split(" ", 1)[1])["turns"] == 0.25
    assert "did you mean turns=1/4?" in run("work", "1", "rod", "turn=1/4", code=2)
    told = run("work", "1", "nut-slot", "string=1", "mm=0.10", code=2)
    assert "mm=-0.1" in told
    assert "raise=0.1" in told
    assert json.loads(run("work", "1", "nut-slot", "string=1", "raise=0.10").split(" ", 1)[1])["mm"] == 0.1
    # The example's saddle screws move 0.5 mm a turn, so half a turn is 0.25 mm: derived.
    told = run("work", "1", "saddle-height", "string=1", "turns=1/2", "mm=-0.6", code=2)
    assert "make 0.25 mm" in told
    run("work", "1", "saddle-height", "string=1", "turns=1/2", "mm=-0.25")
