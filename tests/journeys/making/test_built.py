"""A build's first visit against its design: what was wished for stands in its file, what moved is found. [derived]"""

import json

import numpy as np
import pytest
from starlette.testclient import TestClient

from breakangle.cli.main import main
from breakangle.cli.render.two_lengths import two_lengths
from breakangle.documents.renderers.page_text import page_text
from breakangle.documents.renderers.page_units import in_inches
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.kinds.targets.gap import trade_name
from breakangle.planning.state.board import board_of
from breakangle.services.design.budget import ANCHOR_MM, BEHIND_MM, designed, saddle_for
from breakangle.services.design.measured import lead_of, measured_against, measured_page
from breakangle.services.design.wishes import Wishes, designed_service
from breakangle.services.service_files.service import read_service
from breakangle.services.service_files.service_written import write_service

pytest_plugins = ["web_fixtures.at_hand"]
DESIGN = designed_service(Wishes("electric-guitar", "Siskin", action_mm=(1.5, 1.2), relief_mm=0.22))


def gaps(service: Service) -> list:
    board = board_of(service.instrument)
    return [one for one in targets_of(service, board).wanted if target_kind(one).unit == "mm"]


def built(higher_mm: float = 0.0) -> Service:
    """The build as it left the bench: every gap as designed, the action `higher_mm` up under all strings."""
    read = [
        target_kind(one).as_reading(one, one.mm + higher_mm * (trade_name(one) == "action"), 0.02)
        for one in gaps(DESIGN)
    ]
    return DESIGN.model_copy(update={"readings": tuple(read)})


def test_what_was_wished_for_is_what_its_first_visit_wants(tmp_path):
    write_service(tmp_path / "one.json", DESIGN)
    wanted = gaps(read_service(str(tmp_path / "one.json")))
    action = {one.string: one.mm for one in wanted if trade_name(one) == "action"}
    assert (action[6], action[1]) == (1.5, 1.2)
    assert action[3] == pytest.approx(1.2 + 0.3 * 2.0 / 5.0, abs=2e-3), "straight between"
    assert {one.mm for one in wanted if trade_name(one) == "relief"} == {0.22}
    lower = designed(designed_service(Wishes("electric-guitar", "two", action_mm=(1.2, 0.9))))
    assert lower.build.angle_degrees > designed(DESIGN).build.angle_degrees, "lower strings, more angle"


def test_a_break_angle_wanted_is_the_angle_it_has():
    sizes = saddle_for(30.0)
    assert designed(DESIGN, sizes).break_degrees == pytest.approx(30.0)
    assert sizes["saddle_mm"] == pytest.approx(BEHIND_MM * np.tan(np.radians(30.0)) - ANCHOR_MM)
    with pytest.raises(CorrectInputError, match="from 10"):
        saddle_for(2.0)


def test_a_build_to_its_nominal_is_as_designed():
    found = measured_against(DESIGN, built())
    assert len(found.figures) == len(gaps(DESIGN))
    assert all(one.as_designed for one in found.figures)
    assert lead_of(found).startswith("Built as designed")
    assert found.moved is None
    rows = measured_page(found, "Siskin").blocks[1].rows
    assert [row[:2] for row in rows] == sorted(
        (row[:2] for row in rows),
        key=lambda row: (["relief", "action", "nut clearance"].index(row[0]), -int(row[1])),
    )


def test_a_build_whose_action_came_out_high_names_what_moves_all_strings_alike():
    """0.4 mm up at the 12th fret under all strings: 0.8 mm at the saddle; the angle is likeliest."""
    found = measured_against(DESIGN, built(0.4))
    out = [one for one in found.figures if not one.as_designed]
    assert {one.name for one in out} == {"action"}
    assert len(out) == 6
    assert found.moved.moved[0].dimension == "angle_degrees"
    # The neck leans too little: mm at the saddle over the reach, as an angle.
    reach = float(designed(DESIGN).build.reach_mm)
    assert found.moved.moved[0].amount.value == pytest.approx(-np.degrees(0.8 / reach), rel=0.35)
    assert "6 of" in lead_of(found)


def test_only_what_was_read_before_any_work_counts():
    read = tuple(one.model_copy(update={"after": 1}) for one in built().readings[:3])
    with pytest.raises(CorrectInputError, match="nothing was read"):
        measured_against(DESIGN, DESIGN.model_copy(update={"readings": read}))
    with pytest.raises(CorrectInputError, match="as designed"):
        measured_against(designed_service(Wishes("bass-four", "low")), built())


def test_the_verb_takes_wishes_and_compares(tmp_path, capsys):
    write_service(tmp_path / "built.json", built(0.4))
    words = ["design", "electric-guitar", "--action", "1.5/1.2", "--relief", "0.22", "--hand", "medium"]
    assert main([*words, "--measured", str(tmp_path / "built.json")]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "Measured against designed" in said
    assert "neck angle" in said
    assert main([*words, "--measured", str(tmp_path / "built.json"), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["format"] == "breakangle/built/1"
    assert main([*words, "--break", "30"]) == 0
    assert "30°" in capsys.readouterr().out
    assert main([*words[:2], "--action", "9"]) == 2
    assert main([*words[:2], "--break", "2"]) == 2


@pytest.mark.parametrize(
    ("typed", "ends_mm"),
    [("5/64", (1.984, 1.984)), ("5/64,4/64", (1.984, 1.588)), ("5/64/4/64", (1.984, 1.588)), ("1.4/1.1", (1.4, 1.1)),
     ("1.4,1.1", (1.4, 1.1)), ("1,4/1,1", (1.4, 1.1)), ("1,4", (1.4, 1.4)), ("1.5/1", (1.5, 1.0))],
)  # fmt: skip
def test_a_stroke_is_a_fraction_s_or_stands_between_two_lengths(typed, ends_mm):
    """Derived: an inch is 25.4 mm, 5/64 of it 1.984 mm; 1.5/1 in would be 38 mm, which no action is."""
    assert two_lengths("--action", typed, "mm", (0.3, 6.0)) == pytest.approx(ends_mm, abs=1e-3)


@pytest.mark.parametrize("typed", ["9/1.1", "1/2/3", "1.4/", "5/8"])
def test_what_is_no_length_is_refused_with_the_option_s_name(typed):
    with pytest.raises(CorrectInputError, match="--action"):
        two_lengths("--action", typed, "mm", (0.3, 6.0))


def test_the_verb_takes_the_trade_s_fraction(capsys):
    said = []
    for typed in "5/64", "1.984375/1.984375":
        assert main(["design", "electric-guitar", "--action", typed, "--json"]) == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]


def test_how_far_off_it_is_turns_into_inches_too():
    """Derived: 0.40 mm are 0.016 in."""
    page = measured_page(measured_against(DESIGN, built(0.4)), "one")
    assert "+0.40 mm ±" in page_text(page)
    told = page_text(in_inches(page))
    assert "+0.016 in ±" in told
    assert "mm" not in told


def test_the_page_compares_the_first_readings_with_what_was_wanted(bench: TestClient, tmp_path):
    write_service(tmp_path / "one.json", built(0.4))
    bench.post("/visits/new/import", files={"file": ("one.json", (tmp_path / "one.json").read_bytes())})
    assert "Measured against designed" in bench.get("/visits/1/make").text
    page = bench.get("/visits/1/make/built")
    assert page.status_code == 200
    assert "1.20 mm" in page.text
    assert "6 of" in page.text
