"""The rod comes first and is for relief; it is lent to heights that nothing else reaches, while relief has room."""

import pytest

from breakangle.model.instrument import Bridge
from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.targets.gap import GapTarget
from breakangle.planning.plan import plan
from planning_cases import answered, made_of, ordinary, role, service_reading


def low_saddle(
    relief: float, action: float, kind: str = "steel-acoustic-guitar", **strings: float
) -> Service:
    """Return an instrument whose action reads too low for its saddle, all in tolerances; `s1`: at one string."""
    off = {"relief": relief, "action": action}

    def wish(target):  # type: ignore[no-untyped-def]
        if role(target) == "action":
            return strings.get(f"s{target.string}", action)
        return off.get(role(target), 0.0)

    return service_reading(ordinary(kind), wish)


def turns(made: Plan) -> list[float]:
    return [one.adjustment.turns for one in made.steps if isinstance(one.adjustment, RodTurn)]


def test_a_saddle_a_little_too_low_is_helped_by_the_room_that_relief_has():
    made = made_of(low_saddle(relief=-0.6, action=-1.35))
    assert made.verdict == "adjust"
    assert turns(made)
    assert all(turn < 0.0 for turn in turns(made))
    assert not any("taller saddle" in note for note in made.notes)
    assert "nothing else reaches action" in made.steps[0].reason
    for target, then in zip(made.targets.wanted, made.then.readings, strict=True):
        if isinstance(target, GapTarget):
            assert then.mm == pytest.approx(target.mm, abs=1.15 * target.tolerance_mm), target  # type: ignore[attr-defined]


def test_relief_is_not_taken_out_for_a_saddle_too_low():
    service = low_saddle(relief=0.8, action=-1.35)
    made = made_of(service)
    assert (made.verdict, answered(service).verdict) == ("read-first", "beyond-setup")
    assert not turns(made)
    assert any("taller saddle" in note for note in made.notes)


@pytest.mark.parametrize("strings", [{}, {"s6": -4.0}])
def test_the_rod_is_not_turned_where_the_saddle_has_to_be_made_anew_all_the_same(strings):
    made = made_of(low_saddle(relief=-0.6, action=-1.35 if strings else -4.0, **strings))
    assert made.verdict == "beyond-setup"
    assert not turns(made)


def test_a_rod_that_is_left_alone_helps_nothing():
    service = low_saddle(relief=-0.6, action=-1.35)
    made = plan(service, estimate(service), (RodTurn(turns=0.125),))
    assert made.verdict == "beyond-setup"
    assert not turns(made)


def test_screws_that_have_travel_are_turned_and_the_rod_is_not():
    assert not turns(made_of(low_saddle(relief=-0.6, action=-1.35, kind="electric-guitar")))


def test_screws_at_their_end_are_helped_too():
    service = low_saddle(relief=0.5, action=1.35, kind="electric-guitar")
    bridge = Bridge(kind="individual", height_travel_mm=(0.0, 5.0), position_travel_mm=(-4.0, 4.0))
    made = made_of(
        service.model_copy(update={"instrument": service.instrument.model_copy(update={"bridge": bridge})})
    )
    assert turns(made)
    assert all(turn > 0.0 for turn in turns(made))
    assert "saddle-height" not in {one.adjustment.adjust for one in made.steps}


def test_no_saddle_is_cut_beside_the_turn_that_lifts_its_strings():
    """Relief is out, and some strings have no wood to spare as they stand: the rod is set and read before any cut."""
    action = {1: 0.03, 2: 0.67, 3: 1.97, 4: 2.47, 5: 2.52, 6: 3.49}
    relief = {6: -1.16, 1: -0.51}

    def wish(target):  # type: ignore[no-untyped-def]
        return {"action": action, "relief": relief}.get(role(target), {}).get(target.string, 0.0)

    made = made_of(service_reading(ordinary("steel-acoustic-guitar"), wish))
    assert made.verdict == "adjust"
    first = made.steps[0].adjustment
    assert isinstance(first, RodTurn)
    assert first.turns < 0.0
    assert not [one for one in made.steps if one.adjustment.adjust in ("saddle-height", "nut-slot")]
    held_back = [note for note in made.notes if note.startswith("Nothing is cut beside a turn of the rod")]
    assert held_back
    assert "saddle height" in held_back[0]


@pytest.mark.parametrize(("relief", "turned"), [(-0.95, False), (-1.6, True)])
def test_relief_that_reads_inside_is_not_opened_again_after_the_heights(relief, turned):
    service = low_saddle(relief=relief, action=0.0, kind="electric-guitar")
    done = service.model_copy(update={"work": (SaddleHeight(string=3, mm=0.2),)})
    after = tuple(one.model_copy(update={"after": 1}) for one in service.readings)
    assert bool(turns(made_of(done.model_copy(update={"readings": after})))) is turned


def bent_back(relief: float) -> Service:
    """Return a neck bent back, its strings low, its slots at their upper edge or high, in tolerances."""
    off = {"relief": relief, "action": -2.0}
    slots = {1: 0.92, 2: 1.6, 3: 0.85, 4: 1.3, 5: 2.7, 6: 2.7}

    def wish(target):  # type: ignore[no-untyped-def]
        name = role(target)
        return slots[target.string] if name == "nut clearance" else off.get(name, 0.0)

    return service_reading(ordinary("electric-guitar"), wish)


@pytest.mark.parametrize("relief", [-4.0, -3.0, -2.0])
def test_no_slot_at_its_edge_is_a_reason_to_leave_a_neck_bent_back(relief):
    made = made_of(bent_back(relief))
    assert isinstance(made.steps[0].adjustment, RodTurn)
    assert made.verdict == "adjust"


def test_a_slot_at_its_edge_is_cut_after_the_rod_has_been_read_and_not_before():
    strings = [
        one.adjustment.string for one in made_of(bent_back(-4.0)).steps if one.adjustment.adjust == "nut-slot"
    ]  # type: ignore[attr-defined]
    assert not {1, 3} & set(strings)


@pytest.mark.parametrize("relief", [-4.0, -3.0])
def test_what_the_rod_puts_out_is_answered_in_the_same_plan(relief):
    """A plan that leaves a screw unturned for what its own rod does would have to be made twice."""
    made = made_of(bent_back(relief))
    for target, then in zip(made.targets.wanted, made.then.readings, strict=True):
        if role(target) == "action":
            assert then.mm == pytest.approx(target.mm, abs=1.15 * target.tolerance_mm), target  # type: ignore[attr-defined]
