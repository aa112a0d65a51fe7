"""A line of instruments whose nut station drifts is told so, and since when; one that does not is left in peace."""

from pathlib import Path

import numpy as np
import pytest

from breakangle.cli.main import main
from breakangle.fleet.drift import drifts_in, drifts_of
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
    with pytest.raises(ChooseAnotherFileError, match=r"no results\.parquet"):
        drifts_in(tmp_path)


def test_a_line_of_service_files_is_charted_from_the_command_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    line, rng = tmp_path / "line", np.random.default_rng(4)
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
    run("figures", items_of([line]), tmp_path / "out", Here())
    assert main(["fleet-drift", str(tmp_path / "out")]) == 1
    said = capsys.readouterr().out
    nut = said.split("nut clearance")[1].split("relief")[0]
    assert "drifted: seen at serial 02" in nut
    assert "slots" in nut
