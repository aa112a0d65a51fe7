"""The maker of the bench counts minutes by the bench's own list, follows trips, and answers what is asked.

Expected minutes are sums of `bench/workshop/figures.py`, written out as plain figures (common practice, no source).
"""

import numpy as np
import pytest

from bench.workshop.apart import each_apart
from bench.workshop.arrivals import arrival, sound
from bench.workshop.hands import Hands
from bench.workshop.maker import Maker, next_trip
from bench.workshop.readings import Reader
from bench.workshop.thumb import by_rule_of_thumb
from bench.workshop.wanted import out_by_truth, targets_of, wanted_of
from breakangle.model.plan import Plan, Question, Solved, Step, Trip
from breakangle.model.service import Service, Targets
from breakangle.model.words.message import Message
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.readings.gap import Gap


def hands(kind: str, bridge: str | None = None) -> Hands:
    return Hands(arrival(kind, 1, bridge), np.random.default_rng(3))


def maker(kind: str = "electric-guitar") -> Maker:
    one, rng = sound(kind, 1), np.random.default_rng(3)
    return Maker(
        one, Hands(one, rng), Reader(one, rng), Service(instrument=one.instrument, targets=targets_of(one))
    )


def plan_of(steps: list[tuple[object, int]], trips: tuple[Trip, ...] = ()) -> Plan:
    return Plan(
        verdict="adjust",
        steps=tuple(Step(adjustment=one, reason="", trip=trip) for one, trip in steps),  # type: ignore[arg-type]
        now=Solved(readings=()),
        then=Solved(readings=()),
        targets=Targets(),
        trips=trips,
    )


CUTS = [SaddleHeight(string=string, mm=-0.3) for string in (1, 2, 5)]
TURN, SLOT = RodTurn(turns=0.25), NutSlot(string=3, mm=-0.1)


@pytest.mark.parametrize(
    ("kind", "bridge", "trip", "minutes"),
    [
        ("steel-acoustic-guitar", None, CUTS, 4.0 + 6.0),  # six slack and back, the saddle out once
        ("ukulele-concert", None, CUTS[:2], 4.0 * 4 / 6 + 6.0),  # four strings
        ("electric-guitar", None, CUTS, 3 * 0.5),
        ("electric-guitar", None, [SLOT, NutSlot(string=4, mm=-0.1)], 2 * 1.5 + 4.0 * 2 / 6),
        ("electric-guitar", None, [TURN], 2.0),
        ("electric-guitar", None, [SaddlePosition(string=2, mm=0.5)], 0.5),
        ("electric-guitar", None, [Tune()], 0.0),  # nothing has been disturbed
        ("electric-guitar", None, [CUTS[0], Tune()], 0.5 + 3.0),
        ("electric-guitar", "two-post", [SaddleHeight(post="bass", mm=0.3)], 0.5),
    ],
)
def test_a_trip_costs_the_minutes_of_what_is_done_in_it(kind, bridge, trip, minutes):
    one = hands(kind, bridge)
    one.take(trip)
    assert one.minutes == pytest.approx(minutes)


def test_disturbed_strings_settle_once():
    one = hands("steel-acoustic-guitar")
    one.take(CUTS)
    before = one.minutes
    one.settle()
    one.settle()
    assert one.minutes == before + 3.0


def test_a_file_and_a_hand_at_a_saddle_only_take_away():
    one = hands("steel-acoustic-guitar")
    nut, saddle = one.one.nut_mm.copy(), one.one.saddle_mm.copy()
    for _ in range(40):
        one.take([NutSlot(string=1, mm=-0.001), SaddleHeight(string=2, mm=-0.001)])
    assert one.one.nut_mm[0] < nut[0]
    assert one.one.saddle_mm[1] < saddle[1]
    one.take([SaddleHeight(string=4, mm=0.5)])
    assert one.one.saddle_mm[3] == saddle[3]


def test_a_screw_moves_by_a_factor_of_its_own():
    """1 ± 0.05 of what is asked, and a hand of 0.015 mm: of 200 screws asked for 1 mm, √(0.05² + 0.015²) = 0.052."""
    moved = []
    for seed in range(34):
        one = Hands(arrival("electric-guitar", seed), np.random.default_rng(seed))
        before = one.one.saddle_mm.copy()
        one.take([SaddleHeight(string=string, mm=1.0) for string in range(1, 7)])
        moved += list(one.one.saddle_mm - before)
    assert np.mean(moved) == pytest.approx(1.0, abs=0.015)
    assert np.std(moved) == pytest.approx(0.052, rel=0.2)


def test_a_loose_bridge_is_slid_as_a_whole_and_only_what_is_left_is_shaped():
    one = hands("banjo-five")
    before = one.one.setback_mm.copy()
    one.take([SaddlePosition(string=string, mm=3.0) for string in range(1, 6)])
    assert one.one.setback_mm - before == pytest.approx([3.0] * 5, abs=0.7)
    assert np.ptp(one.one.setback_mm - before) < 1e-9
    assert one.minutes == pytest.approx(0.5 * 4.0 * 5 / 6)


def test_a_plan_without_trips_is_taken_kind_by_kind_and_turn_by_turn():
    plan = plan_of([(TURN, 1), (TURN, 1), (CUTS[0], 1), (CUTS[1], 1), (SLOT, 1), (Tune(), 1)])
    assert [step.adjustment for step in next_trip(plan)[0]] == [TURN]
    rest = plan.model_copy(update={"steps": plan.steps[2:]})
    assert [step.adjustment for step in next_trip(rest)[0]] == CUTS[:2]


def test_a_plan_with_trips_is_taken_trip_by_trip_and_read_at_its_end():
    read = (Gap(string=1, fret=12, held=(1,), mm=1.2),)
    trips = (
        Trip(trip=1, name="rod", slacken="no", minutes=3.0, reads=read),
        Trip(trip=2, name="bridge", slacken="no", minutes=5.0, reads=read),
    )
    plan = plan_of([(TURN, 1), (TURN, 1), (CUTS[0], 2), (Tune(), 2)], trips)
    assert next_trip(plan) == ([plan.steps[0]], ())
    last_turn = plan.model_copy(update={"steps": plan.steps[1:]})
    assert next_trip(last_turn) == ([plan.steps[1]], read)
    bridge = plan.model_copy(update={"steps": plan.steps[2:]})
    assert next_trip(bridge) == (list(plan.steps[2:]), read)


def test_a_slip_that_is_asked_about_is_written_down_right_in_its_place():
    one = maker()
    one.full_set()
    readings = list(one.service.readings)
    at = next(i for i, r in enumerate(readings) if isinstance(r, Gap) and r.fret == 12)
    readings[at] = readings[at].model_copy(update={"mm": 9.9})
    one.service = one.service.model_copy(update={"readings": tuple(readings)})
    before = one.hands.minutes
    slip = Question(ask="typing-slip", readings=(readings[at],), message=Message(key="plan.slip"))
    one._answer(slip.ask, slip.readings)
    assert len(one.service.readings) == len(readings)
    assert 9.9 not in [getattr(r, "mm", None) for r in one.service.readings]
    assert one.service.readings[-1].mm == pytest.approx(
        one.one.gap_mm(readings[at].string, 12, (1,)), abs=0.2
    )
    assert (one.asked, one.hands.minutes - before) == (1, 0.25)


def _squared(number: int) -> int:
    while number == 2:
        pass
    return number**2


def test_a_task_that_never_ends_is_told_as_none_and_the_others_are_done():
    assert each_apart(_squared, [1, 2, 3], workers=2, seconds=1) == [1, None, 9]


def test_a_full_set_costs_a_quarter_of_a_minute_a_figure():
    """Of six strings: relief twice, six actions, six slots, and six octaves each with its open string."""
    one = maker()
    one.full_set()
    assert len(one.service.readings) == 2 + 6 + 6 + 12
    assert one.hands.minutes == pytest.approx(26 * 0.25)


def test_rules_of_thumb_put_a_plain_fault_right_and_count_their_minutes():
    one = sound("electric-guitar", 5)
    one.saddle_mm = one.saddle_mm + 0.8
    before = out_by_truth(one, wanted_of(one)).max()
    stand, rounds = by_rule_of_thumb(one, 5)
    assert before > 2.0
    assert np.median(stand.out) < 0.8
    assert rounds >= 1
    assert stand.minutes >= 2 * 26 * 0.25 + 6 * 0.5
