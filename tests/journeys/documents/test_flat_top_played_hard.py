"""A flat-top at 2.4 and 1.9 mm with 0.30 mm of relief, played hard: spoken of as a repairer would, on every page.

Such a set-up seldom buzzes (common practice, no source); a little lower some notes graze a crown, and nobody hears it.
"""

import json

from breakangle.cli.main import main
from contact_setups import service_data


def told(tmp_path, monkeypatch, capsys, *words: str, low_mm: float = 2.4, high_mm: float = 1.9) -> str:
    """Return what a command says of the instrument, in one line; exit codes are looked at by other tests."""
    data = service_data("steel-acoustic-guitar", low_mm, high_mm, relief_mm=0.30, nut_mm=0.06)
    data["targets"] = {"hand": "heavy", "no_buzz_at": "heavy"}
    data["readings"] += [
        {"quantity": "pitch", "string": string, "fret": fret, "cents": 0.0}
        for string in range(1, 7)
        for fret in (0, 12)
    ]
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "shop"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "flat-top.json").write_text(json.dumps(data), encoding="utf-8")
    main(list(words))
    return " ".join(capsys.readouterr().out.split())


def test_map_plan_and_owners_sheet_call_it_right(tmp_path, monkeypatch, capsys):
    by_map = told(tmp_path, monkeypatch, capsys, "buzz", "flat-top.json", "--strength", "heavy")
    assert "All 120 notes are clear" in by_map
    assert "The plan: leave it." in by_map
    assert "Leave it." in told(tmp_path, monkeypatch, capsys, "plan", "flat-top.json")
    told(tmp_path, monkeypatch, capsys, "take-in", "flat-top.json", "--owner", "Åse Holm")
    told(tmp_path, monkeypatch, capsys, "report", "1", "--form", "txt", "--out", "sheet.txt")
    sheet = " ".join((tmp_path / "sheet.txt").read_text(encoding="utf-8").split())
    assert "It needed nothing and is right for a heavy hand" in sheet
    assert "every note clears the frets" in sheet
    assert "heard to touch" not in sheet


def test_a_graze_is_told_apart_from_what_is_heard(tmp_path, monkeypatch, capsys):
    lower = {"low_mm": 1.2, "high_mm": 1.2}
    said = told(
        tmp_path, monkeypatch, capsys, "buzz", "flat-top.json", "--strength", "heavy", "--json", **lower
    )
    notes = json.loads(said)["notes"]
    verdicts = {one["verdict"] for one in notes if one["strength"] == "heavy"}
    assert "trace" in verdicts, "a graze stands on the map"
    assert "audible" not in verdicts, "and is not called heard"
    by_map = told(tmp_path, monkeypatch, capsys, "buzz", "flat-top.json", "--strength", "heavy", **lower)
    assert "not heard" in by_map
