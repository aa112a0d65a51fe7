"""A plan never waits for nothing, asks for no place without end, and never orders tuning alone for nothing."""

from dataclasses import replace

import pytest

from breakangle.model.instrument import Nut
from breakangle.model.plan import Plan
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.target_state import Place, place_read, sight_of
from breakangle.planning.kinds.adjustments.saddle_height import KIND as HEIGHT
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.solve.decide import decide
from breakangle.planning.trips.course import course
from planning_cases import good, made_of, ordinary, service_reading

KINDS = ("electric-guitar", "bass-four", "ukulele-tenor")


def is_nut(one: Reading, string: int) -> bool:
    return isinstance(one, Gap) and one.string == string and one.held != () and one.held[0] > one.fret


def on_the_crown(service: Service, string: int, times: int) -> Service:
    """Return the service with no gap read at the nut of `string`, so many times."""
    nut = next(one for one in service.readings if is_nut(one, string))
    rest = tuple(one for one in service.readings if one is not nut)
    return service.model_copy(update={"readings": (*rest, *(nut.model_copy(update={"mm": 0.0}),) * times)})


def without_pitches(service: Service) -> Service:
    kept = tuple(one for one in service.readings if isinstance(one, Gap))
    return service.model_copy(update={"readings": kept})


def asked(made: Plan) -> list[Place]:
    found = [place_read(one) for question in made.questions for one in question.readings]
    return found + [place_read(one) for one in (*made.read_again, made.read_next) if one is not None]


@pytest.mark.parametrize("string", [1, 4])
@pytest.mark.parametrize("kind", KINDS)
def test_a_place_read_three_times_since_the_last_work_is_not_asked_for_again(kind, string):
    service = without_pitches(on_the_crown(good(kind), string, 3))
    nut = next(one for one in service.readings if is_nut(one, string))
    assert place_read(nut) not in asked(made_of(service))


def zero_fret_read_empty(times: int) -> Service:
    instrument = ordinary("nylon-acoustic-guitar").model_copy(update={"nut": Nut(kind="zero-fret")})
    return on_the_crown(service_reading(instrument, lambda target: 0.0), 4, times)


@pytest.mark.parametrize("times", [1, 2])
def test_a_plan_that_says_read_first_asks_for_the_string_that_lies_on_a_crown(times):
    service = zero_fret_read_empty(times)
    made = made_of(service)
    nut = next(one for one in service.readings if is_nut(one, 4))
    assert made.verdict == "read-first"
    assert place_read(nut) in asked(made)


def test_no_slot_of_a_zero_fret_is_asked_about():
    made = made_of(zero_fret_read_empty(1))
    assert not [one for one in made.questions if one.message.key == "diagnosis.low_slot_open"]


def test_a_string_that_lies_on_a_crown_however_often_it_is_read_is_beyond_a_set_up():
    made = made_of(zero_fret_read_empty(3))
    assert (made.verdict, made.questions) == ("beyond-setup", ())


def test_less_than_a_hand_can_set_does_not_leave_a_tuning_behind():
    bridge = ordinary("mandolin").bridge.model_copy(update={"kind": "two-post"})
    service = service_reading(ordinary("mandolin").model_copy(update={"bridge": bridge}), lambda target: 0.0)
    now = estimate(service)
    sight = sight_of(now, made_of(service).targets.wanted)
    lever = HEIGHT.levers(now.picture)[0]
    for amount_mm, steps in ((0.02, 0), (0.2, 2)):
        decision = replace(decide(service, now, sight), moves=((lever, amount_mm),))
        assert len(course(service, now, sight, decision, ()).steps) == steps
