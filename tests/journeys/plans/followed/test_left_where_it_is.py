"""What a master leaves: a twisted neck's rod where the mean is right, a saddle whose note nobody can tell to be off."""

import pytest

from breakangle.model.service import Service
from breakangle.planning.estimate.diagnosis.finer_than_gauge import finer_than_gauge
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.targets.gap import is_relief
from breakangle.planning.plan import plan
from planning_cases import made_of, only, ordinary, role, service_reading

TWICE = 2


def read_twice(service: Service) -> Service:
    return service.model_copy(update={"readings": service.readings * TWICE})


def twisted(bass: float, treble: float) -> Service:
    """Return a service whose relief is off by so many tolerances at string 6 and at string 1, all read twice."""

    def wish(target):  # type: ignore[no-untyped-def]
        if is_relief(target):
            return {6: bass, 1: treble}[target.string]
        return 0.5 if role(target) == "nut clearance" else 0.0  # with room for what a turn does there

    return read_twice(service_reading(ordinary("electric-guitar"), wish))


def test_the_rod_of_a_twisted_neck_stays_where_the_mean_is_right():
    """Rule 4 of a plan a master would sign: leave the rod where the mean of both sides is right."""
    made = made_of(twisted(3.0, -3.0))
    assert "twist" in {one.finding for one in made.findings}
    assert not [one for one in made.steps if isinstance(one.adjustment, RodTurn)]


def test_the_rod_of_a_twisted_neck_is_turned_to_the_mean():
    """Both sides bowed, one farther: the turn brings them as far to either side of what is wanted, not one inside."""
    made = made_of(twisted(8.0, 4.0))
    turns = [one.adjustment.turns for one in made.steps if isinstance(one.adjustment, RodTurn)]
    assert turns and all(one > 0.0 for one in turns)
    ends = [one.mm - wanted.mm for one, wanted in zip(made.then.readings, made.targets.wanted, strict=True)
            if is_relief(wanted)]  # fmt: skip
    assert abs(sum(ends)) < 0.05 < max(ends)


@pytest.mark.parametrize("cents", [0.1, 0.4])
def test_no_saddle_moves_for_what_no_ear_tells(cents):
    """By an ear known no better than 1.4 cents: moved, the note would be as likely outside as before."""
    service = service_reading(ordinary("electric-guitar"), only("action", 3.0, 6))
    vague = [
        one.model_copy(update={"uncertainty_cents": 1.0, "cents": cents if one.fret else 0.0})
        if isinstance(one, Pitch) else one
        for one in service.readings
    ]  # fmt: skip
    made = made_of(service.model_copy(update={"readings": tuple(vague)}))
    moved = {one.adjustment.string for one in made.steps if isinstance(one.adjustment, SaddlePosition)}
    assert moved <= {6}  # whose height is set


def test_heights_are_read_once_the_rod_is_set():
    """A turn moves all actions together: a few are read before all are set by what it was expected to do."""

    def wish(target):  # type: ignore[no-untyped-def]
        return {"relief": 5.0, "action": 3.0}.get(role(target), 0.0)

    made = made_of(service_reading(ordinary("electric-guitar"), wish))
    assert [one.name for one in made.trips][:2] == ["at-pitch", "bridge-heights"]
    read = [one for one in made.trips[0].reads if one.fret == 12]
    assert 1 <= len(read) <= 3


def test_no_pitch_is_asked_for_while_strings_are_out_of_tune():
    def wish(target):  # type: ignore[no-untyped-def]
        return {"relief": 3.0, "action": 4.0, "intonation": 4.0}.get(role(target), 0.0)

    service = service_reading(ordinary("steel-acoustic-guitar"), wish)
    turned = service.model_copy(update={"work": (RodTurn(turns=0.25),)})
    asked = [
        [each for question in made_of(one).questions for each in question.readings]
        for one in (service, turned)
    ]
    assert [each for each in asked[0] if isinstance(each, Pitch)]
    assert not [each for each in asked[1] if isinstance(each, Pitch)]


def test_a_figure_finer_than_its_gauge_counts_as_a_slip_sooner():
    """Steps of 0.05 mm: 1.02 is no figure of this gauge, but 1.20 with its digits changed about. Derived."""
    heights = [1.15, 1.02, 1.25, 1.3, 1.35, 1.4]
    readings = [Gap(string=n, fret=12, held=(1,), mm=mm) for n, mm in enumerate(heights, start=1)]
    assert finer_than_gauge(readings).tolist() == [False, True, False, False, False, False]
    hundredths = [one.model_copy(update={"mm": one.mm + 0.01 * one.string}) for one in readings]
    assert not finer_than_gauge(hundredths).any()


def test_slots_that_all_read_high_are_not_each_asked_for_again():
    """Rule 15: readings that speak together are believed together; two alike may be one figure written down twice."""
    high = service_reading(ordinary("electric-guitar"), only("nut clearance", 8.0))
    same = [one.model_copy(update={"mm": 0.35}) if isinstance(one, Gap) and one.held == (3,) else one
            for one in high.readings]  # fmt: skip
    service = high.model_copy(update={"readings": tuple(same)})
    keys = [one.message.key for one in plan(service, estimate(service)).questions]
    assert keys.count("ask.confirm") == 0
