"""Readings are asked for where they change what is done: few of what moved together, none for what nothing mends."""

import numpy as np
import pytest

from breakangle.model.instrument import Nut
from breakangle.model.plan import Plan
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.slips import slip_questions
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.estimate.telling_few import after_reading, telling_few
from breakangle.planning.explain.next_reading import reading_noise
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.reference.messages import words
from planning_cases import made_of, only, ordinary, role, service_reading


def asked(made: Plan) -> list[Reading]:
    return [reading for one in made.questions for reading in one.readings]


def is_action(one: Reading) -> bool:
    return isinstance(one, Gap) and one.held == (1,)


def at_nut(one: Reading) -> bool:
    return isinstance(one, Gap) and one.held == (3,)


def turned(kind: str) -> Service:
    """An acoustic that stands high, its rod turned and relief read since."""
    wish = {"action": 5.0, "relief": 2.0}
    service = service_reading(ordinary(kind), lambda target: wish.get(role(target), 0.0))
    targets = targets_of(service, estimate(service).board).wanted
    since = [
        Gap(string=one.string, fret=one.fret, held=one.held, mm=one.mm, uncertainty_mm=0.02, after=2)  # type: ignore[attr-defined]
        for one in targets
        if role(one) == "relief"
    ]
    work = (RodTurn(turns=0.5), Tune())
    return service.model_copy(update={"work": work, "readings": (*service.readings, *since)})


@pytest.mark.parametrize("kind", ["steel-acoustic-guitar", "twelve-string-guitar"])
def test_after_the_rod_a_few_actions_tell_of_all(kind: str):
    """A turn moves all strings together: a master reads the outer ones, not twelve."""
    service = turned(kind)
    again = [one for one in asked(made_of(service)) if is_action(one)]
    assert len(again) <= 4
    now = estimate(service)
    sight = sight_of(now, targets_of(service, now.board).wanted)
    actions = tuple(index for index, one in enumerate(sight.targets) if role(one) == "action")
    enough, noise = 0.6 * sight.tolerance, reading_noise(service, sight.targets)
    few = telling_few(now, sight, actions, enough, noise)
    covariance = sight.rows @ now.belief.covariance @ sight.rows.T
    for place in few:
        covariance = after_reading(covariance, place, float(noise[place]))
    at = list(actions)
    assert (np.sqrt(np.diag(covariance))[at] <= enough[at] + 1e-12).all()
    assert len(few) < len(actions)


def test_one_reading_settles_what_moves_with_it():
    """Two figures of variance 1 and covariance c: one read without noise leaves the other 1 - c² [derived]."""
    left = after_reading(np.array([[1.0, 0.8], [0.8, 1.0]]), 0, 0.0)
    assert left == pytest.approx(np.array([[0.0, 0.0], [0.0, 0.36]]))


@pytest.mark.parametrize(("off", "is_asked"), [(3.0, False), (0.0, True)])
def test_a_zero_fret_that_nothing_mends_is_asked_for_only_once_nothing_is_left_to_do(
    off: float, is_asked: bool
):
    electric = ordinary("electric-guitar").model_copy(update={"nut": Nut(kind="zero-fret")})
    service = service_reading(electric, only("action", off))
    bare = tuple(one for one in service.readings if not at_nut(one))
    made = made_of(service.model_copy(update={"readings": bare}))
    assert bool(made.steps) is not is_asked
    assert bool([one for one in asked(made) if at_nut(one)]) is is_asked


def test_a_slot_is_read_twice_where_its_figure_may_be_its_neighbour_s():
    service = service_reading(ordinary("electric-guitar"), lambda target: 0.0)

    def nut(figures: dict[int, float]) -> Service:
        return service.model_copy(update={"readings": tuple(
            one.model_copy(update={"mm": figures[one.string], "uncertainty_mm": 0.01})
            if at_nut(one) and one.string in figures
            else one
            for one in service.readings
        )})  # fmt: skip

    same, other = nut({3: 0.15, 4: 0.15}), nut({3: 0.15, 4: 0.05})
    confirm = [one for one in made_of(same).questions if one.message.key == "ask.confirm"]
    assert {reading.string for one in confirm for reading in one.readings} == {3, 4}
    assert not [one for one in made_of(other).questions if one.message.key == "ask.confirm"]


def swapped(kind: str, one: int, other: int) -> Service:
    """Actions that rise evenly from treble to bass, two of them written down in each other's place."""
    service = service_reading(ordinary(kind), lambda target: 0.0)
    there = {one: other, other: one}
    return service.model_copy(
        update={
            "readings": tuple(
                each.model_copy(
                    update={"mm": round(1.1 + 0.16 * (there.get(each.string, each.string) - 1), 2)}
                )
                if is_action(each)
                else each
                for each in service.readings
            )
        }
    )


@pytest.mark.parametrize(("one", "other"), [(2, 5), (1, 4), (2, 4)])
def test_two_figures_in_each_other_s_place_are_named_as_that(one: int, other: int):
    made = made_of(swapped("electric-guitar", one, other))
    found = [each for each in made.questions if each.message.key == "ask.swapped"]
    assert [sorted(reading.string for reading in each.readings) for each in found] == [[one, other]]
    assert f"strings {one} and {other}" in words(found[0].message)
    # Neither is asked for a second time by itself.
    assert len([each for each in asked(made) if is_action(each) and each.string in (one, other)]) == 2


def test_no_screw_is_turned_on_a_string_whose_figure_is_unlike_its_neighbours():
    """Rule 2 of a plan a master would sign: a doubted figure orders nothing on that string until it is read again."""
    service = swapped("electric-guitar", 2, 5)
    now: Estimate = estimate(service)
    odd = {one.reading.string for one in now.surprises if is_action(one.reading)}
    assert odd >= {2, 5}
    made = made_of(service)
    assert not {getattr(one.adjustment, "string", None) for one in made.steps} & odd
    assert {one.string for one in asked(made)} >= odd
    # Read again and found so, they are worked on.
    again = tuple(one for one in service.readings if is_action(one) and one.string in odd)
    worked = made_of(service.model_copy(update={"readings": (*service.readings, *again)}))
    assert {getattr(one.adjustment, "string", None) for one in worked.steps} & odd


@pytest.mark.parametrize(("octave", "way"), [(-1, "low"), (1, "high")])
def test_a_whole_set_an_octave_off_is_seen(octave: int, way: str):
    """Pull goes with the square of the frequency: a quarter, or four times [derived]."""
    guitar = ordinary("electric-guitar")
    strings = tuple(
        one.model_copy(update={"note": f"{one.note[:-1]}{int(one.note[-1]) + octave}"})
        for one in guitar.strings
    )
    (question,) = slip_questions(Service(instrument=guitar.model_copy(update={"strings": strings})))
    assert f"an octave too {way}" in words(question.message)
    assert not slip_questions(Service(instrument=guitar))
