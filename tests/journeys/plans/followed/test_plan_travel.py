"""A plan moves no adjuster past the travel that the instrument's file states, rounded to whole steps of the hand."""

import pytest

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Step
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.plan import plan
from planning_cases import made_of, only, ordinary, service_reading

NEVER_MM = 1e-6


def with_travel(kind: str = "electric-guitar", **travel_mm: tuple[float, float]) -> Instrument:
    instrument = ordinary(kind)
    return instrument.model_copy(update={"bridge": instrument.bridge.model_copy(update=travel_mm)})


def moved(service: Service, name: str) -> list[Step]:
    return [one for one in plan(service, estimate(service)).steps if one.adjustment.adjust == name]


# Out by more than the travel mends, and ends that lie just short of a whole eighth of the screw.
@pytest.mark.parametrize("off", [-2.0, 2.0])
@pytest.mark.parametrize("end_mm", [0.29, 0.31, 0.36])
def test_a_saddle_is_not_turned_past_its_travel_to_a_whole_eighth(off, end_mm):
    service = service_reading(with_travel(height_travel_mm=(-end_mm, end_mm)), only("action", off))
    steps = moved(service, "saddle-height")
    assert steps
    assert all(abs(one.adjustment.mm) <= end_mm + NEVER_MM for one in steps)  # type: ignore[attr-defined]


@pytest.mark.parametrize("off", [-1.8, 1.8])
@pytest.mark.parametrize("end_mm", [0.87, 0.95, 1.03])
def test_a_saddle_is_not_moved_past_its_travel_to_a_whole_eighth(off, end_mm):
    service = service_reading(with_travel(position_travel_mm=(-end_mm, end_mm)), only("intonation", off))
    steps = moved(service, "saddle-position")
    assert steps
    assert all(abs(one.adjustment.mm) <= end_mm + NEVER_MM for one in steps)  # type: ignore[attr-defined]


def test_what_less_than_an_eighth_of_a_turn_would_mend_is_told_as_out_of_travel():
    service = service_reading(with_travel(height_travel_mm=(-0.02, 0.02)), only("action", 9.0))
    made = made_of(service)
    assert not [one for one in made.steps if one.adjustment.adjust == "saddle-height"]
    assert made.verdict == "beyond-setup"
