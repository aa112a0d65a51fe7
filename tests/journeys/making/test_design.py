"""A design from wishes to paper: the geometry gives the targets, the budget is true of many builds. All [derived]."""

import json
from dataclasses import fields, replace

import ezdxf
import pytest

from breakangle.cli.main import main
from breakangle.model.errors import CorrectInputError
from breakangle.physics.making.build import Build, action_mm, angle_for_degrees, slopes_mm
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.state.board import board_of
from breakangle.services.design.budget import designed
from breakangle.services.design.wishes import Wishes, designed_service
from breakangle.services.service_files.service import plan_service, read_service

NOMINAL = Build(9.5, 3.5, 6.0, 1.05, 0.55, 0.07, 0.2, 287.3)
SHARE, PLACE = 0.5, 0.9
BARITONE = ("B3", "F#3", "D3", "A2", "E2", "B1")


def test_a_level_build_without_angle_and_relief_is_a_plain_sum():
    """Crowns' line at the bridge's top, nut floor nothing: half of what the saddle stands over it, exactly."""
    flat = Build(7.0, 3.0, 6.0, 1.0, 0.0, 0.0, 0.0, 300.0)
    assert action_mm(flat, 0.5, 0.9) == 1.5


def test_slopes_are_those_of_the_action():
    told = slopes_mm(NOMINAL, SHARE, PLACE)
    for one in fields(Build):
        step = 1e-4
        ends = [
            replace(NOMINAL, **{one.name: getattr(NOMINAL, one.name) + way * step}) for way in (-1.0, 1.0)
        ]
        low, high = (float(action_mm(end, SHARE, PLACE)) for end in ends)
        assert told[one.name] == pytest.approx((high - low) / (2.0 * step), abs=1e-6), one.name


@pytest.mark.parametrize("wanted", [0.8, 1.5, 2.4])
def test_the_angle_gives_the_action_it_was_asked_for(wanted):
    angle = angle_for_degrees(NOMINAL, wanted, SHARE, PLACE)
    assert action_mm(replace(NOMINAL, angle_degrees=angle), SHARE, PLACE) == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("kind", ["steel-acoustic-guitar", "electric-guitar", "bass-four", "mandolin"])
def test_nineteen_builds_in_twenty_lie_within_the_budget(kind):
    found = designed(designed_service(Wishes(kind, "one")))
    assert found.inside == pytest.approx(0.95, abs=0.01)
    assert found.drawn_mm == pytest.approx(found.linear_mm, rel=0.03)
    assert sum(one.share for one in found.shares) == pytest.approx(1.0)


def test_a_baritone_has_strings_that_pull_as_usual_at_its_own_scale():
    usual = board_of(designed_service(Wishes("electric-guitar", "one")).instrument).tension_n
    board = board_of(
        designed_service(Wishes("electric-guitar", "two", {"scale_mm": 686.0}, BARITONE)).instrument
    )
    assert board.instrument.scale_mm == 686.0
    assert [one.note for one in board.instrument.in_order()] == list(BARITONE)
    assert board.tension_n == pytest.approx(usual, rel=0.15)
    kept = designed_service(Wishes("electric-guitar", "three", {}, BARITONE, keep_gauges=True)).instrument
    assert board_of(kept).tension_n.max() < 0.7 * usual.max()


@pytest.mark.parametrize("kind", ["electric-guitar", "steel-acoustic-guitar"])
def test_what_is_built_to_the_nominal_needs_no_adjustment(kind):
    """Every figure read as it was designed, notes in tune: the plan leaves it."""
    service = designed_service(Wishes(kind, "one"))
    wanted = targets_of(service, board_of(service.instrument)).wanted
    read = [target_kind(one).as_reading(one, target_kind(one).wanted(one), 0.02) for one in wanted]
    read += [Pitch(string=one.string, fret=0, cents=0.0) for one in service.instrument.strings]
    found = plan_service(service.model_copy(update={"readings": tuple(read)}))
    assert found.steps == ()
    assert found.verdict == "leave"


def test_wishes_that_cannot_be_are_refused_with_what_can():
    with pytest.raises(CorrectInputError, match="5 notes for 6 strings"):
        designed_service(Wishes("electric-guitar", "one", {}, BARITONE[:5]))
    with pytest.raises(CorrectInputError, match="scale_mm"):
        designed_service(Wishes("electric-guitar", "one", {"colour": 3.0}))
    with pytest.raises(CorrectInputError, match="joint_fret"):
        designed_service(Wishes("electric-guitar", "one", {"frets": 14.0, "joint_fret": 16.0}))


def points_in(path: str) -> list:
    """Return the ends of every line of a drawing, as a general library reads it."""
    ends = []
    for one in ezdxf.readfile(path).modelspace():
        if one.dxftype() == "LINE":
            ends += [one.dxf.start, one.dxf.end]
        if one.dxftype() == "LWPOLYLINE":
            ends += list(one.vertices())
    return ends


def test_the_verb_writes_sheet_drawing_and_file(tmp_path, capsys):
    """The drawing read back by a general library: the saddle's top where bridge and saddle add up to."""
    names = {one: str(tmp_path / one) for one in ("side.dxf", "side.svg", "sheet.txt", "one.json")}
    words = ["design", "steel-acoustic-guitar", "--bridge", "9", "--saddle", "4", "--name", "Dunnock"]
    made = [
        *words,
        "--drawing",
        names["side.dxf"],
        "--sheet",
        names["sheet.txt"],
        "--file",
        names["one.json"],
    ]
    assert main(made) == 0
    assert "Tolerance budget" in (tmp_path / "sheet.txt").read_text().replace(
        "TOLERANCE BUDGET", "Tolerance budget"
    )
    assert read_service(names["one.json"]).instrument.name == "Dunnock"
    capsys.readouterr()
    assert main([*words, "--json"]) == 0
    build = json.loads(capsys.readouterr().out)["build"]
    ends = points_in(names["side.dxf"])
    heights = {round(float(point[1]), 2) for point in ends if abs(float(point[0]) - build["reach_mm"]) < 0.05}
    assert 13.0 in heights
    assert 9.0 in heights
    inches = [
        "design",
        "steel-acoustic-guitar",
        "--units",
        "in",
        "--scale",
        "25.4",
        "--drawing",
        names["side.svg"],
    ]
    assert main(inches) == 0
    assert " in over a bridge of" in " ".join(capsys.readouterr().out.split())
    assert main(["design", "theremin"]) == 2
