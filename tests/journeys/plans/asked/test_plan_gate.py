"""Nothing that cannot be undone is ordered on half a picture, on instruments whose truth the planner does not share.

15 families, four instruments each, of another hand (`bench/workshop`): what a master would never do on what was read.
"""

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from bench.workshop import figures
from bench.workshop.arrivals import arrival
from bench.workshop.maker import next_trip
from bench.workshop.readings import Reader
from bench.workshop.wanted import targets_of
from breakangle.model.plan import Plan
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.learning import recall
from breakangle.planning.estimate.reading_state import roles_read
from breakangle.planning.kinds.adjustments.restring import Restring
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.plan import plan
from breakangle.reference.families import families

SEEDS = range(4)
CUTS = ("nut-slot", "slot-width")


@cache
def arrived(kind: str, seed: int) -> Service:
    """Return a service with a full set of readings, none of them a slip of the pen."""
    one = arrival(kind, seed)
    reader = Reader(one, np.random.default_rng(figures.MAKER_SEED + seed), mistyped_share=0.0)
    return Service(instrument=one.instrument, targets=targets_of(one), readings=tuple(reader.full_set()))


def irreversible(service: Service, made: Plan) -> list[Adjustment]:
    """Return the steps that take something away for good."""
    by_hand = service.instrument.bridge.kind == "one-piece"
    found = []
    for step in made.steps:
        shaped = by_hand and step.adjustment.adjust in ("saddle-height", "saddle-position")
        if step.adjustment.adjust in CUTS or shaped:
            found.append(step.adjustment)
    return found


def role(reading: Reading) -> str:
    """Return what a reading tells of: relief, action, nut clearance or intonation."""
    return str(roles_read(reading)[0][0])


def without(service: Service, drop: Callable[[Reading], bool]) -> Service:
    """Return the service without some of its readings."""
    kept = tuple(one for one in service.readings if not drop(one))
    return service.model_copy(update={"readings": kept})


def plan_of(service: Service) -> Plan:
    return plan(service, estimate(service))


EVERY = [(kind, seed) for kind in families() for seed in SEEDS]


@pytest.mark.parametrize("missing", ["relief", "nut clearance", "action"])
@pytest.mark.parametrize("kind", families())
def test_nothing_is_cut_while_a_height_it_rests_on_is_unread(kind: str, missing: str):
    for seed in SEEDS:
        service = without(arrived(kind, seed), lambda one: role(one) == missing)
        if missing == "nut clearance" and len(service.readings) == len(arrived(kind, seed).readings):
            continue  # no slotted nut, so nothing to miss
        made = plan_of(service)
        assert irreversible(service, made) == [], (kind, seed)
        assert made.verdict != "leave", (kind, seed)


@pytest.mark.parametrize("kind", families())
def test_however_many_actions_are_read_they_alone_never_lead_to_a_cut(kind: str):
    for seed in SEEDS:
        actions = [one for one in arrived(kind, seed).readings if role(one) == "action"]
        service = arrived(kind, seed).model_copy(update={"readings": tuple(actions * 6)})
        assert irreversible(service, plan_of(service)) == [], (kind, seed)


@pytest.mark.parametrize("kind", families())
def test_no_cut_stands_beside_a_turn_of_the_rod(kind: str):
    turned = 0
    for seed in SEEDS:
        made = plan_of(arrived(kind, seed))
        if any(step.adjustment.adjust == "rod" for step in made.steps):
            turned += 1
            assert irreversible(arrived(kind, seed), made) == [], (kind, seed)
            assert next_trip(made)[0][0].adjustment.adjust == "rod"
    assert turned or arrived(kind, 0).instrument.rod.kind == "none"


@pytest.mark.parametrize("kind", families())
def test_no_work_is_ordered_on_a_string_whose_figure_is_doubted(kind: str):
    """A figure with its decimal point slipped, beside all the others."""
    for seed in SEEDS:
        service = arrived(kind, seed)
        odd = next(one for one in service.readings if isinstance(one, Gap) and role(one) == "action")
        slip = odd.model_copy(update={"mm": min(odd.mm * 5.0, 14.0)})
        readings = tuple(slip if one is odd else one for one in service.readings)
        made = plan_of(service.model_copy(update={"readings": readings}))
        moved = [
            step.adjustment
            for step in made.steps
            if getattr(step.adjustment, "string", None) == odd.string
            or getattr(step.adjustment, "post", None)
        ]
        assert [one for one in moved if one.adjust == "saddle-height"] == [], (kind, seed)
        asked = [one for question in made.questions for one in question.readings]
        assert any((one.string, one.fret) == (odd.string, odd.fret) for one in asked), (kind, seed)


@pytest.mark.parametrize(
    ("kind", "seed"), [("steel-acoustic-guitar", 1), ("ukulele-tenor", 2), ("mandolin", 1)]
)
def test_a_returning_visit_passes_the_same_gate(kind: str, seed: int):
    """What an earlier visit knew is no reading of this one."""
    earlier = arrived(kind, seed)
    actions = tuple(one for one in earlier.readings if role(one) == "action")
    blank = earlier.model_copy(update={"readings": actions})
    made = plan(blank, estimate(blank, prior=recall([earlier], blank)))
    assert irreversible(blank, made) == []
    assert made.verdict != "leave"


def test_new_strings_shut_the_gate_until_all_is_read_again():
    service = arrived("steel-acoustic-guitar", 1)
    strings = tuple(
        one.model_copy(update={"diameter_mm": one.diameter_mm * 1.1}) for one in service.instrument.strings
    )
    made = plan_of(service.model_copy(update={"work": (Restring(strings=strings),)}))
    assert irreversible(service, made) == []
    assert made.verdict != "leave"


def test_what_the_gate_holds_back_is_told_first_with_the_reading_that_opens_it():
    service = without(arrived("steel-acoustic-guitar", 1), lambda one: role(one) == "relief")
    made = plan_of(service)
    assert made.notes[0].startswith("Nothing is cut yet:")
    first = made.questions[0]
    assert role(first.readings[0]) == "relief"
    assert any(key.startswith("saddle-height") for key in first.decides)
    opened = plan_of(arrived("steel-acoustic-guitar", 1))
    assert irreversible(service, opened) or any(step.adjustment.adjust == "rod" for step in opened.steps)


def test_sixty_instruments_are_looked_at():
    assert len(EVERY) == 60
