"""A plan read cold at the bench: what it asks is true, is not known yet, and names the string it speaks of."""

from pathlib import Path

import pytest

from breakangle.cli.main import main
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.services.plans.plan_page import plan_sheet
from breakangle.services.plans.solved_visits import Solved
from breakangle.services.service_files.service import plan_service
from breakangle.services.visits.reading_places import expected, expected_beside, place_of
from planning_cases import made_of, ordinary

# The house's own figures for the kind, and a high instrument: common practice, no source.
WANTED_MM, HIGH_MM = (1.6, 1.7, 1.8, 1.9, 2.0, 2.1), (2.6, 2.7, 2.9, 3.0, 3.2, 3.4)


def read(action: tuple[float, ...], relief: float, nut: tuple[float, ...]) -> tuple[Gap, ...]:
    """Return relief at both edges, and action and nut clearance of every string, in mm."""
    edges = tuple(Gap(string=one, fret=7, held=(1, 14), mm=relief) for one in (1, 6))
    heights = tuple(Gap(string=one, fret=12, held=(1,), mm=mm) for one, mm in enumerate(action, 1))
    return edges + heights + tuple(Gap(string=one, fret=1, held=(3,), mm=mm) for one, mm in enumerate(nut, 1))


def acoustic(*readings: Gap, work: tuple[RodTurn, ...] = ()) -> Service:
    """Return a steel acoustic with these readings."""
    return Service(instrument=ordinary("steel-acoustic-guitar"), readings=readings, work=work)


def test_a_nut_that_reads_as_wanted_is_not_called_all_but_nothing():
    made = made_of(acoustic(*read(WANTED_MM, 0.2, (0.04, 0.04, 0.04, 0.05, 0.05, 0.05))))
    assert not [one for one in made.questions if one.message.key == "diagnosis.low_slot_open"]


def test_a_nut_that_reads_below_what_is_wanted_is_read_again():
    made = made_of(acoustic(*read(WANTED_MM, 0.2, (0.04, 0.0, 0.04, 0.05, 0.05, 0.05))))
    asked = [(one.string, one.fret) for asked in made.questions for one in asked.readings]  # type: ignore[attr-defined]
    assert (2, 1) in asked


def high(actions_after: bool) -> Service:
    """Return a high acoustic whose rod has been set; its actions were read since, or before only."""
    first = read(HIGH_MM, 0.42, (0.10, 0.10, 0.12, 0.14, 0.15, 0.16))
    set_since = [
        one for one in read((2.2, 2.3, 2.5, 2.6, 2.8, 3.0), 0.2, ()) if actions_after or one.fret == 7
    ]
    since = [one.model_copy(update={"after": 3}) for one in set_since]
    return acoustic(*first, *since, work=(RodTurn(turns=0.25),) * 3)


def test_each_end_of_a_saddle_says_the_action_of_its_own_side():
    steps = [one for one in made_of(high(True)).steps if "off the saddle" in one.reason]
    # What is then shaped at single strings, the saddle being out, says the action of its own string.
    cuts = [one for one in steps if one.adjustment.post]  # type: ignore[attr-defined]
    assert [one.adjustment.post for one in cuts] == ["bass", "treble"]  # type: ignore[attr-defined]
    assert "Action at string 6" in cuts[0].reason or "action at string 6" in cuts[0].reason
    assert "action at string 6 is" not in cuts[1].reason


def test_a_figure_not_read_since_the_rod_was_turned_is_asked_for_that_and_not_for_an_edge():
    asked = [one for one in made_of(high(False)).questions if one.ask == "reading"]
    actions = [one for one in asked if one.readings[0].quantity == "gap" and one.readings[0].fret == 12]  # type: ignore[attr-defined]
    assert actions
    assert {one.message.key for one in actions} <= {"ask.moved", "ask.stale"}
    assert "saddle-height" not in {one.adjustment.adjust for one in made_of(high(False)).steps}


def test_a_figure_whose_unit_is_asked_is_not_asked_for_a_second_time():
    in_inches = read((0.071, 0.073, 0.078, 0.083, 0.09, 0.094), 0.01, (0.005,) * 6)
    made = plan_service(acoustic(*in_inches))
    assert made.questions[0].ask == "inches"
    places = [(one.string, one.fret) for asked in made.questions for one in asked.readings]  # type: ignore[attr-defined]
    assert len(places) == len(set(places))


def test_a_rod_turned_three_quarters_is_not_said_in_eighths():
    assert "three quarters of a turn" in high_told(0.75)


def high_told(turns: float) -> str:
    """Return a turn of the rod in words."""
    from breakangle.planning.kinds.registry import adjustment_kind

    one = RodTurn(turns=turns)
    return adjustment_kind(one).told(one, ordinary("steel-acoustic-guitar"))


def test_no_relief_is_said_without_a_sign(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    proud = tuple(Crown(string=one, fret=7, mm=0.08) for one in (1, 3, 6))
    file = tmp_path / "proud.json"
    file.write_text(service_text(acoustic(*read(WANTED_MM, 0.2, (0.04,) * 6), *proud)), encoding="utf-8")
    main(["lowest", str(file)])
    said = capsys.readouterr().out
    assert "mm then" in said
    assert "-0.00" not in said


def test_a_reading_that_was_weighed_as_nothing_has_what_is_believed_as_its_expectation():
    """Derived: a reading with no part in the belief leaves it as it is when it is taken out."""
    service = acoustic()
    now = estimate(service)
    odd = Gap(string=4, fret=12, held=(1,), mm=4.0)
    (beside,) = expected_beside([odd], now)
    (plain,) = expected([place_of(odd)], now).values()
    assert beside.value == pytest.approx(plain.value, abs=1e-6)
    assert beside.spread == pytest.approx(plain.spread, rel=0.1)


def test_an_octave_that_nobody_read_is_not_called_right_on_the_plan_page():
    service = acoustic(*read(WANTED_MM, 0.2, (0.04, 0.04, 0.04, 0.05, 0.05, 0.05)))
    told = {one.words: one.status for one in plan_sheet(Solved(service, estimate(service))).figures}
    octaves = {status for words, status in told.items() if words.startswith("intonation")}
    assert octaves == {"unread"}
    assert {status for words, status in told.items() if words.startswith("relief")} == {"stop"}
