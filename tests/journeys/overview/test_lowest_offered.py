"""`lowest` offers one height in every place, says what holds each string up, and keeps to what rod and saddles reach.

The heights that are offered are held to the exact motion and to the family's own table, not to the programme.
"""

import re
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from breakangle.library.touching import lowest as library_lowest
from breakangle.planning.buzz.set_up import present
from breakangle.planning.state.picture import picture_of
from breakangle.reference.families import family
from breakangle.reference.strength import playing
from breakangle.services.service_files.lowest import LowestReport, lowest_setup
from contact_setups import left_mm
from lowest_asked import at_command_line, checked, high, page_of

pytest_plugins = ["web_fixtures.at_hand"]
# A screw for every string, a saddle of one piece, two posts, a string with its own nut, no rod.
KINDS = (
    "electric-guitar", "bass-four", "steel-acoustic-guitar", "mandolin", "banjo-five", "nylon-acoustic-guitar",
)  # fmt: skip
MARGIN_MM, HALF_SHOWN_MM = 0.02, 0.00501
ROW = re.compile(r"^ ?(\d+) \S+ +([\d.]+) +([\d.]+) +([\d.]+) +([\d.]+) {3}(.+)$", re.MULTILINE)


def rows_of(said: str, caption: str) -> list[list[float]]:
    """The figures in the body of the table whose caption or label holds `caption`."""
    table = said[said.index(caption) :]
    body = re.sub(r"<thead.*?</thead>", "", table[: table.index("</table>")], flags=re.DOTALL)
    return [
        [float(one) for one in re.findall(r"<t[hd][^>]*>\s*([\d.]+)", row)]
        for row in re.findall(r"<tr[ >].*?</tr>", body, re.DOTALL)
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_command_json_library_and_page_tell_one_height(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], bench: TestClient
) -> None:
    data = high(kind, crowns={9: 0.03})
    said, found, _ = at_command_line(data, tmp_path, capsys)
    wanted, least = np.array(found["action_to_set_mm"]), np.array(found["least_usual_action_mm"])
    usual = family(kind).target("light")
    assert least.max() == pytest.approx(max(usual.action_low_mm, usual.action_high_mm), abs=0.06)
    offered = [found["to_set"]["action_mm"], *(one["action_to_set_mm"] for one in found["trade"])]
    if found["levelling"]["to_set"] is not None:
        level = np.array(found["levelling"]["to_set"]["action_mm"])
        offered.append(level)
        assert found["levelling"]["gain_mm"] == pytest.approx(np.mean(wanted - level), abs=0.001)
    assert all(np.all(np.array(one) >= least - 0.001) for one in offered)
    assert offered[0] == found["action_to_set_mm"]
    table = [[float(one) for one in row[:5]] for row in ROW.findall(said)]
    assert [row[2] for row in table] == pytest.approx(wanted, abs=HALF_SHOWN_MM)
    assert [row[4] for row in table] == pytest.approx(found["to_set"]["nut_clearance_mm"], abs=HALF_SHOWN_MM)
    assert f"{found['to_set']['relief_mm']:.2f} mm then" in said
    told = library_lowest(checked(data))
    assert told.action_to_set_mm == pytest.approx(wanted, abs=0.00051)
    assert told.relief_to_set_mm == pytest.approx(found["to_set"]["relief_mm"], abs=0.00051)
    page = page_of(data, bench)
    assert [row[3] for row in reversed(rows_of(page, "Each string, at the 12th fret"))] == pytest.approx(
        wanted, abs=HALF_SHOWN_MM
    )
    means = [np.mean(one["action_to_set_mm"]) for one in found["trade"]]
    if means:
        assert min(means) >= wanted.mean() - 0.01, "no relief is told to be lower than what is offered"
        printed = re.search(r"^  action +(.+)$", said, re.MULTILINE)
        assert printed is not None
        assert [float(one) for one in printed[1].split()] == pytest.approx(means, abs=HALF_SHOWN_MM)
        assert [row[2] for row in rows_of(page, "The lowest action to set")] == pytest.approx(
            means, abs=HALF_SHOWN_MM
        )


@pytest.mark.parametrize("strength", ["light", "heavy"])
@pytest.mark.parametrize("kind", KINDS)
def test_what_is_said_to_hold_a_string_up_does(
    kind: str, strength: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A string that a note holds up is heard a hundredth lower; one at the usual height is not, and stands there."""
    data = high(kind)
    report, hand = lowest_setup(checked(data), strength), playing(kind)
    reached = report.to_set.picture
    assert left_mm(reached, hand, strength) >= MARGIN_MM - 1e-6
    said, found, _ = at_command_line(data, tmp_path, capsys, "--strength", strength)
    reasons = {int(row[0]): row[5] for row in ROW.findall(said)}
    assert set(reasons) == {one["string"] for one in data["instrument"]["strings"]}
    for string, reason in reasons.items():
        mean = reached.mean.copy()
        mean[reached.layout["saddle_height"][string - 1]] -= 0.01
        lower = picture_of(reached.board, mean)
        if "on crown" in reason:
            assert left_mm(lower, hand, strength) < MARGIN_MM - 1e-6, reason
        elif reason == "the usual height":
            assert left_mm(lower, hand, strength) >= MARGIN_MM - 1e-6
            assert present(lower).action_mm[string - 1] < report.least_usual_mm[string - 1] - 0.001
        else:
            assert (kind, reason) == ("mandolin", "the other strings")
    told = " ".join(said.split())
    assert ("the house's figures for a light hand" in told) == ("the usual height" in reasons.values())
    assert found["to_set"]["held_up_by_usual_action"] == [
        one for one, reason in reasons.items() if reason == "the usual height"
    ]


def test_relief_is_as_wanted_where_the_action_gains_nothing() -> None:
    """A flat-top: its house relief for a medium hand is .20 mm (common practice, no source), wanted to .07 or so."""
    wanted = family("steel-acoustic-guitar").target("medium").relief_mm
    assert wanted == pytest.approx(0.2)
    found = lowest_setup(checked(high("steel-acoustic-guitar", relief_mm=0.44)))
    assert len(found.to_set.at_usual) == 6
    assert found.to_set.relief_mm == pytest.approx(wanted, abs=0.005)
    right = lowest_setup(checked(high("steel-acoustic-guitar", relief_mm=wanted + 0.03)))
    assert right.to_set.relief_mm == pytest.approx(right.now.relief_mm, abs=1e-6)


def least_reliefs(report: LowestReport) -> list[float]:
    every = (report.lowest, report.to_set, *report.trade, *report.trade_to_set)
    return [one.relief_mm for one in every]


@pytest.mark.parametrize("kind", ["electric-guitar", "steel-acoustic-guitar", "mandolin", "banjo-five"])
def test_a_rod_at_its_stop_brings_no_relief_down(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = high(kind, rod=0, relief_mm=0.44)
    stopped = lowest_setup(checked(data))
    assert min(least_reliefs(stopped)) >= stopped.now.relief_mm - 1e-6
    free = lowest_setup(checked(high(kind, relief_mm=0.44)))
    assert free.lowest.relief_mm < stopped.now.relief_mm - 0.1
    assert free.lowest.action_mm.mean() < stopped.lowest.action_mm.mean() - 0.05
    said, found, _ = at_command_line(data, tmp_path, capsys)
    told = re.search(r"The rod brings relief no lower than ([\d.]+) mm", " ".join(said.split()))
    # .44 mm was read, at the fret where relief is read; in the middle of the neck it may be a little less.
    assert told is not None
    assert float(told[1]) == pytest.approx(0.44, abs=0.04)
    assert found["relief_reach_mm"][0] == pytest.approx(found["now"]["relief_mm"], abs=0.001)
    assert all(one["relief_mm"] >= found["now"]["relief_mm"] - 0.001 for one in found["trade"])


@pytest.mark.parametrize(("turns", "to_set_mm"), [(0.0, 0.44), (0.25, 0.365), (0.5, 0.29), (1.0, 0.20)])
def test_relief_comes_down_as_far_as_the_turns_that_are_left(turns: float, to_set_mm: float) -> None:
    """A flat-top's rod takes .30 mm a turn until it is known (the family's table): .44 − .30 × turns, wanted .20."""
    found = lowest_setup(checked(high("steel-acoustic-guitar", rod=turns, relief_mm=0.44)))
    assert found.relief_reach is not None
    assert found.relief_reach[0] == pytest.approx(0.44 - 0.30 * turns, abs=0.003)
    assert found.lowest.relief_mm == pytest.approx(
        max(0.44 - 0.30 * turns, 0.07), abs=0.08 if turns == 1.0 else 0.003
    )
    assert found.to_set.relief_mm == pytest.approx(to_set_mm, abs=0.003)
    assert found.rod_at_end == (turns < 1.0)


def test_turns_that_were_made_are_gone() -> None:
    data = high("electric-guitar", rod=0.5, relief_mm=0.44)
    data["work"] = [{"adjust": "rod", "turns": 0.5}]
    after = [one | {"after": 1, "mm": 0.3} for one in data["readings"] if one.get("held") == [1, 17]]
    data["readings"] += after
    found = lowest_setup(checked(data))
    assert found.now.relief_mm == pytest.approx(0.3, abs=0.03)
    assert min(least_reliefs(found)) >= found.now.relief_mm - 1e-6


def test_a_neck_that_stays_bowed_over_a_saddle_of_one_piece_is_no_way_down(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], bench: TestClient
) -> None:
    """As `plan` says of it: nothing is cut under such a neck."""
    data = high("steel-acoustic-guitar", rod=0, relief_mm=0.44)
    said, found, left = at_command_line(data, tmp_path, capsys)
    assert (left, found["verdict"]) == (1, "read-first")
    assert "nothing is cut under a neck that is bowed so far" in " ".join(said.split())
    assert "nothing is cut under a neck that is bowed so far" in page_of(data, bench)
    assert at_command_line(high("steel-acoustic-guitar", relief_mm=0.44), tmp_path, capsys)[2] == 0
    assert at_command_line(high("electric-guitar", rod=0, relief_mm=0.44), tmp_path, capsys)[2] == 0


def test_no_saddle_goes_lower_than_its_screws(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """.30 mm down at most, in whole eighths of a turn of .5 mm: .25; .15 of it done, .125 are left."""
    data = high("electric-guitar", travel=[-0.3, 1.0], low_mm=2.0, high_mm=1.75, relief_mm=0.15)
    found = lowest_setup(checked(data))
    assert found.to_set.saddle_raised_mm.min() == pytest.approx(-0.25, abs=1e-6)
    assert {one + 1 for one in np.flatnonzero(found.to_set.saddle_raised_mm < -0.24999)} >= set(
        found.to_set.at_end
    )
    assert found.to_set.at_end
    assert "its saddle, at its end" in at_command_line(data, tmp_path, capsys)[0]
    data["work"] = [{"adjust": "saddle-height", "string": one, "mm": -0.15} for one in range(1, 7)]
    assert lowest_setup(checked(data)).to_set.saddle_raised_mm.min() == pytest.approx(-0.125, abs=1e-6)


def test_what_would_have_to_rise_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], bench: TestClient
) -> None:
    """A saddle of one piece, cut a millimetre lower than anybody sets it, cannot be cut up again."""
    data = high("steel-acoustic-guitar", low_mm=0.8, high_mm=0.6, relief_mm=0.2)
    said, found, left = at_command_line(data, tmp_path, capsys)
    assert left == 1
    assert found["to_set"]["saddle_too_low"] == [1, 2, 3, 4, 5, 6]
    assert "The saddle is too low at strings 1 to 6" in said
    assert "The saddle is too low at strings 1 to 6" in page_of(data, bench)
    screws = high("electric-guitar", low_mm=0.8, high_mm=0.6)
    assert at_command_line(screws, tmp_path, capsys)[1]["to_set"]["saddle_too_low"] == []
