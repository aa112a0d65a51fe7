"""The planner as a maker meets it: what it says of odd readings, limits, conflicts, and work half done."""

import pytest

from breakangle.model.instrument import Bridge, Rod
from breakangle.model.reading import Target
from breakangle.model.service import Service, Targets
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.targets.gap import GapTarget
from breakangle.planning.plan import plan
from breakangle.reference.messages import words
from planning_cases import answered, ordinary, role, service_reading


def planned(service: Service):  # type: ignore[no-untyped-def]
    return plan(service, estimate(service))


def only(name: str, off: float, *strings: int):  # type: ignore[no-untyped-def]
    def wish(target: Target) -> float:
        return off if role(target) == name and (not strings or target.string in strings) else 0.0

    return wish


def test_a_reading_unlike_its_neighbours_is_asked_about_and_not_averaged_away():
    made = planned(service_reading(ordinary("electric-guitar"), only("action", 4.5, 3)))
    assert any("String 3 over fret 12" in note and "read it again?" in note for note in made.notes)
    now = next(
        one for one in made.now.readings if (one.string, one.fret) == (3, 12) and one.quantity == "gap"
    )
    wanted = next(
        one.mm for one in made.targets.wanted if (one.string, one.fret) == (3, 12) and hasattr(one, "mm")
    )
    assert now.mm == pytest.approx(wanted + 0.45, abs=0.02)


def test_two_readings_of_one_thing_that_cannot_both_be_right_are_named_and_count_for_less():
    service = service_reading(ordinary("electric-guitar"), lambda target: 0.0)
    right = next(
        one for one in service.readings if isinstance(one, Gap) and (one.string, one.fret) == (6, 12)
    )
    slip = right.model_copy(update={"mm": right.mm + 0.6})
    made = planned(service.model_copy(update={"readings": (*service.readings, slip)}))
    said = [note for note in made.notes if "counts for less" in note]
    assert said
    assert "String 6 over fret 12" in said[0]


def test_a_misread_caliper_is_not_taken_at_face_value():
    """8.2 for 1.2: no instrument reads so, and no plan may come of it."""
    service = service_reading(ordinary("electric-guitar"), lambda target: 0.0)
    readings = [
        one.model_copy(update={"mm": 8.2})
        if isinstance(one, Gap) and (one.string, one.fret) == (2, 12)
        else one
        for one in service.readings
    ]
    made = planned(service.model_copy(update={"readings": tuple(readings)}))
    assert any("String 2 over fret 12" in note and "read it again?" in note for note in made.notes)
    assert not [step for step in made.steps if getattr(step.adjustment, "mm", 0.0) < -2.0]


def test_a_rod_at_its_stop_is_not_turned_and_the_plan_says_why():
    instrument = ordinary("electric-guitar").model_copy(update={"rod": Rod(kind="single", turns_left=0.0)})
    made = planned(service_reading(instrument, only("relief", 4.0)))
    assert made.verdict == "beyond-setup"
    assert not [step for step in made.steps if getattr(step.adjustment, "turns", 0.0) > 0.0]
    assert any("Beyond a set-up: relief" in note and "specialist" in note for note in made.notes)


def test_a_slot_too_deep_cannot_be_filed_up():
    service = service_reading(ordinary("bass-four"), only("nut clearance", -1.6, 2))
    made = planned(service)
    assert (made.verdict, answered(service).verdict) == ("read-first", "beyond-setup")
    assert any("nut clearance at string 2" in note and "cannot be filed up" in note for note in made.notes)
    assert not [step for step in made.steps if step.adjustment.adjust == "nut-slot"]


def test_a_saddle_with_no_travel_left_says_so():
    instrument = ordinary("electric-guitar")
    bridge = Bridge(kind="individual", height_travel_mm=(-0.1, 5.0), position_travel_mm=(-4.0, 4.0))
    made = planned(service_reading(instrument.model_copy(update={"bridge": bridge}), only("action", 6.0)))
    assert made.verdict == "beyond-setup"
    assert any("shim or a reset" in note for note in made.notes)


def test_a_saddle_cut_by_hand_only_comes_down():
    low = planned(service_reading(ordinary("nylon-acoustic-guitar"), only("action", -4.0)))
    assert low.verdict == "beyond-setup"
    assert any("taller saddle" in note for note in low.notes)
    high = planned(service_reading(ordinary("nylon-acoustic-guitar"), only("action", 4.0)))
    cuts = [step for step in high.steps if step.adjustment.adjust == "saddle-height"]
    assert 1 <= len(cuts) <= 2
    assert all(step.adjustment.post and step.adjustment.mm < 0.0 for step in cuts)
    assert all("mask" in " ".join(step.caution) for step in cuts)


def test_a_proud_crown_is_named_with_its_fret():
    service = service_reading(ordinary("electric-guitar"), lambda target: 0.0)
    crowns = tuple(Crown(string=s, fret=9, mm=0.09, uncertainty_mm=0.01) for s in (1, 3, 6))
    made = planned(service.model_copy(update={"readings": service.readings + crowns}))
    said = [*made.notes, *(words(one.message) for one in made.findings)]
    assert any("crown of fret 9" in note and "levelling" in note for note in said)


def test_no_gap_at_all_is_not_taken_for_a_straight_neck():
    service = service_reading(ordinary("electric-guitar"), lambda target: 0.0)
    flat = [
        one.model_copy(update={"mm": 0.0}) if isinstance(one, Gap) and len(one.held) == 2 else one
        for one in service.readings
    ]
    made = planned(service.model_copy(update={"readings": tuple(flat)}))
    assert any("lies on the crown" in note for note in made.notes)
    assert made.steps[0].adjustment.turns < 0.0


def test_a_persons_wish_replaces_the_houses_in_any_convention():
    instrument = ordinary("electric-guitar")
    wish = GapTarget(string=6, fret=17, held=(), mm=2.6, tolerance_mm=0.12)
    service = service_reading(instrument, lambda target: 0.0)
    made = planned(service.model_copy(update={"targets": Targets(hand="medium", wanted=(wish,))}))
    about_six = [one for one in made.targets.wanted if one.string == 6 and role(one) == "action"]
    assert about_six == [wish]
    raised = [step.adjustment for step in made.steps if step.adjustment.adjust == "saddle-height"]
    assert [one.string for one in raised] == [6]


@pytest.mark.parametrize("hand", ["light", "medium", "heavy"])
def test_each_hand_has_its_own_house_targets(hand):
    service = Service(instrument=ordinary("electric-guitar"), targets=Targets(hand=hand))
    action = [one.mm for one in planned(service).targets.wanted if role(one) == "action"]
    assert action == sorted(action)
    assert {"light": 1.25, "medium": 1.4, "heavy": 1.8}[hand] == action[-1]


def test_work_half_done_is_planned_from_where_it_stands():
    """A step done and read again: the plan goes on from there, and does not ask for it twice."""
    service = service_reading(ordinary("electric-guitar"), only("action", 2.0, 6))
    first = planned(service).steps[0].adjustment
    assert isinstance(first, SaddleHeight)
    expected = next(one for one in planned(service).steps[0].expect if one.quantity == "gap")
    done = service.model_copy(
        update={
            "work": (first,),
            "readings": (*service.readings, expected.model_copy(update={"after": 1, "uncertainty_mm": 0.01})),
        }
    )
    again = planned(done)
    assert not [step for step in again.steps if step.adjustment.adjust == "saddle-height"]


def test_a_rod_that_answers_less_than_expected_changes_the_rest_of_the_plan():
    service = service_reading(ordinary("electric-guitar"), only("relief", 3.0))
    relief = [one for one in service.readings if isinstance(one, Gap) and len(one.held) == 2]
    turned = [step.adjustment for step in planned(service).steps if step.adjustment.adjust == "rod"]
    after = tuple(one.model_copy(update={"mm": one.mm - 0.03, "after": 1}) for one in relief)
    done = service.model_copy(update={"work": (RodTurn(turns=0.25),), "readings": service.readings + after})
    left = [step.adjustment for step in planned(done).steps if step.adjustment.adjust == "rod"]
    assert sum(one.turns for one in left) > sum(one.turns for one in turned) - 0.25


def test_every_expected_reading_carries_its_uncertainty_and_every_amount_its_screw():
    made = planned(service_reading(ordinary("electric-guitar"), lambda target: 2.0))
    for step in made.steps:
        for one in step.expect:
            assert getattr(one, "uncertainty_mm", None) or getattr(one, "uncertainty_cents", None)
        if step.adjustment.adjust in ("saddle-height", "saddle-position", "rod"):
            assert "turn" in (step.screw or "")


def test_no_buzz_at_a_strength_raises_what_would_touch_and_nothing_else():
    low = service_reading(ordinary("electric-guitar"), only("action", -3.0))
    clean = planned(low.model_copy(update={"targets": Targets(no_buzz_at="medium")}))
    assert clean.verdict == "adjust"
    assert not [note for note in clean.notes if "would be heard" in note]
    left = planned(service_reading(ordinary("electric-guitar"), lambda target: 0.0))
    assert left.verdict == "leave"


def test_targets_that_buzz_at_the_wished_strength_are_said_to_conflict():
    service = service_reading(ordinary("electric-guitar"), lambda target: 0.0)
    made = planned(service.model_copy(update={"targets": Targets(no_buzz_at="heavy")}))
    assert made.verdict == "beyond-setup"
    assert any("would be heard on crown" in note and "its action must be" in note for note in made.notes)
