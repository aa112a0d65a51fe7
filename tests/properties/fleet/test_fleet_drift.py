"""A line of instruments whose nut station drifts is told so, and since when; one that does not is left in peace."""

import re
from pathlib import Path

import numpy as np
import pytest

from breakangle.cli.main import main
from breakangle.documents.renderers.page import Picture
from breakangle.documents.renderers.page_file import page_file
from breakangle.fleet.drift import drifts_in, drifts_of
from breakangle.fleet.drift_sheet import drift_page
from breakangle.fleet.items import items_of
from breakangle.fleet.run import run
from breakangle.library.files import add_readings, example_service, write_service
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from fleet_fixtures.here import Here


def rows(count: int, shift_mm: float = 0.0, begins: int = 60, seed: int = 1) -> list[dict[str, object]]:
    """Return figures of a line: nut clearance 0.05 ± 0.01 with a shift from one instrument on, action steady."""
    rng, found = np.random.default_rng(seed), []
    for n in range(count):
        nut = 0.05 + rng.normal(0, 0.01) + (shift_mm if n >= begins else 0.0)
        for name, value, wanted in (("nut clearance", nut, 0.05), ("action", 1.5 + rng.normal(0, 0.05), 1.5)):
            found.append({"item": f"{n:04d}", "figure": name, "value": value, "wanted": wanted, "unit": "mm"})
    return found


def test_a_station_that_drifts_is_found_with_when_and_by_how_much():
    action, nut = drifts_of(rows(100, shift_mm=0.02))
    assert (action.figure, action.alarm) == ("action", "")
    assert "0060" <= nut.alarm <= "0066"
    assert abs(int(nut.since) - 60) <= 3
    assert nut.step == pytest.approx(0.02, abs=0.005)
    assert "slots" in nut.dimension


def test_false_alarms_are_as_rare_as_the_chart_s_run_length_says():
    """Derived: with 465 values between alarms on average, and 78 that count, about 1 - exp(-78 / 465), 15 of 100 lines,
    alarm; of 200 that share lies within 8 more or fewer 999 times in 1,000."""
    alarms = [bool(one.alarm) for seed in range(100) for one in drifts_of(rows(80, seed=seed))]
    assert np.mean(alarms) == pytest.approx(0.15, abs=0.08)


def test_too_few_instruments_are_refused(tmp_path: Path):
    with pytest.raises(CorrectInputError, match="of 12 instruments"):
        drifts_of(rows(12))
    with pytest.raises(CorrectInputError, match="no figure of any instrument was read"):
        drifts_of([{**one, "read": False} for one in rows(30)])
    with pytest.raises(ChooseAnotherFileError, match=r"no results\.parquet"):
        drifts_in(tmp_path)


def drifting_line(line: Path) -> None:
    """Write 30 electrics whose nut is cut 0.03 mm higher from the 22nd on."""
    rng = np.random.default_rng(4)
    line.mkdir()
    for n in range(30):
        nut = 0.05 + rng.normal(0, 0.004) + (0.03 if n >= 22 else 0)
        readings = [
            {
                "quantity": "gap",
                "string": string,
                "fret": 1,
                "held": [3],
                "mm": round(nut, 3),
                "uncertainty_mm": 0.01,
            }
            for string in range(1, 7)
        ]
        write_service(
            line / f"serial {n:03d}.json", add_readings(example_service("electric-guitar"), readings)
        )


def test_a_line_of_service_files_is_charted_from_the_command_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    line = tmp_path / "line"
    drifting_line(line)
    run("figures", items_of([line]), tmp_path / "out", Here())
    design, sheet = tmp_path / "design.json", tmp_path / "charts.html"
    write_service(design, example_service("electric-guitar"))
    asked = ["fleet-drift", str(tmp_path / "out"), "--design", str(design), "--sheet", str(sheet)]
    assert main(asked) == 1
    said = capsys.readouterr().out
    assert "nut slot over the crowns' line: has moved by +" in said
    assert "action" not in said  # nobody read it
    assert sheet.read_text().count("<figure") == said.count(" instruments, ") == 1
    assert "most likely since serial 02" in sheet.read_text()
    assert "drifted: seen at serial 02" in said
    assert main(["fleet-drift", str(tmp_path / "out")]) == 1
    in_mm = capsys.readouterr().out
    assert "what moves it: the depth of the nut's slots" in in_mm
    assert main([*asked, "--units", "in"]) == 1
    in_inches = capsys.readouterr().out
    assert " mm" not in in_inches + sheet.read_text()
    # Derived: an inch is 25.4 mm; both are printed to three digits.
    by = [float(re.search(r"by ([+-][\d.]+) ", one)[1]) for one in (in_mm, in_inches)]  # type: ignore[index]
    assert by[0] / by[1] == pytest.approx(25.4, rel=0.01)


def test_a_chart_marks_what_lies_outside_and_tells_its_numbers():
    """Derived: a value ten deviations away is outside, and its sum past 5 at once."""
    line = rows(24)
    line += [{**one, "item": "0024", "value": one["value"] + 0.5} for one in line[-2:]]
    drifts = drifts_of(line)
    page = drift_page(drifts, None, "line")
    pictures = [one for one in page.blocks if isinstance(one, Picture)]
    assert [one.svg.count("<circle") for one in pictures] == [int(one.outside.sum()) for one in drifts]
    assert all(one.outside[-1] and one.alarm for one in drifts)
    assert all("an alarm at 0024" in one.alt for one in pictures)
    with pytest.raises(CorrectInputError, match="not a form of a sheet"):
        page_file(page, "doc")
