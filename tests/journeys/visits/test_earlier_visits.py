"""An instrument comes back: what its rod did on the first visit is known on the second."""

import json
from typing import Any

import pytest

from breakangle.cli.main import main
from breakangle.services.service_files.example import example_text

ROD = "rod_relief_mm_per_turn"


def relief(string: int, mm: float, after: int) -> dict[str, Any]:
    held = {"fret": 8, "held": [1, 17], "mm": mm, "uncertainty_mm": 0.015}
    return {"quantity": "gap", "string": string, **held, "after": after}


@pytest.fixture
def first_visit(tmp_path) -> str:
    """A quarter turn took the example's relief from 0.46 to 0.31 mm: this rod does 0.6 mm a turn."""
    data = json.loads(example_text())
    data["work"] = [{"adjust": "rod", "turns": 0.25}]
    data["readings"] += [relief(6, 0.31, 1), relief(1, 0.28, 1)]
    file = tmp_path / "first.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    return str(file)


@pytest.fixture
def second_visit(tmp_path) -> str:
    file = tmp_path / "second.json"
    file.write_text(example_text(), encoding="utf-8")
    return str(file)


def planned(capsys, *words: str) -> dict[str, Any]:
    assert main(["plan", *words, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def rod(plan: dict[str, Any]) -> tuple[float, float]:
    found = next(one for one in plan["now"]["responses"] if one["name"] == ROD)
    return found["value"], found["uncertainty"]


def test_the_first_visit_teaches_what_the_rod_does(capsys, first_visit, second_visit):
    (family, doubt), (learned, less) = rod(planned(capsys, second_visit)), rod(planned(capsys, first_visit))
    # What a family's rods do is known closer than it was, and some of a first turn may only have taken up play.
    assert less < 0.65 * doubt
    assert learned == pytest.approx(-0.6, abs=3 * less)
    assert abs(learned + 0.6) < abs(family + 0.6)


def test_a_later_visit_starts_from_what_the_first_one_taught(capsys, first_visit, second_visit):
    alone = planned(capsys, second_visit)
    known = planned(capsys, second_visit, "--earlier", first_visit)
    assert rod(known)[1] < 0.75 * rod(alone)[1]

    def turned(plan: dict[str, Any]) -> float:
        return float(sum(one["turns"] for one in plan["steps"] if one["adjust"] == "rod"))

    assert 0.0 < turned(known) < turned(alone)

    def doubt_of_relief(plan: dict[str, Any]) -> float:
        return float(plan["then"]["readings"][0]["uncertainty_mm"])

    assert doubt_of_relief(known) < doubt_of_relief(alone)


def test_an_earlier_visit_of_another_shape_is_refused(capsys, second_visit, tmp_path):
    other = tmp_path / "bass.json"
    other.write_text(example_text("bass-four"), encoding="utf-8")
    assert main(["plan", second_visit, "--earlier", str(other)]) == 2
    err = capsys.readouterr().err
    assert "has 4 strings and" in err
    assert "this instrument has 6 and 22; leave that file out" in err
