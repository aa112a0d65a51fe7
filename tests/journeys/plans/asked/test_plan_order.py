"""What comes first in the order of work comes first in the plan: relief is not left out for the sake of a slot."""

from breakangle.model.service import Service
from breakangle.planning.kinds.adjustments.rod import RodTurn
from planning_cases import made_of, ordinary, role, service_reading


def bowed(slot: float) -> Service:
    """Return a bass with far too much relief and slots at `slot` tolerances, which the rod will take lower."""

    def wish(target):  # type: ignore[no-untyped-def]
        return {"relief": 3.5, "action": 2.0, "nut clearance": slot}.get(role(target), 0.0)

    return service_reading(ordinary("bass-five"), wish)


def test_a_bowed_neck_is_straightened_although_its_slots_are_low():
    made = made_of(bowed(slot=-0.75))
    first = made.steps[0].adjustment
    assert isinstance(first, RodTurn)
    assert first.turns > 0.0


def test_what_the_rod_may_put_out_is_read_before_it_is_called_beyond_a_set_up():
    made = made_of(bowed(slot=-0.9))
    assert made.verdict == "adjust"
    assert not any("Beyond a set-up" in note for note in made.notes)
    told = [note for note in made.notes if "may take this out of its tolerance: nut clearance" in note]
    assert len(told) == 1
    assert "Read it after the turn" in told[0]


def test_a_slot_that_reads_too_deep_after_the_turn_is_said_to_be():
    service = bowed(slot=-1.4)
    relief = {"relief": 0.0, "action": 0.0, "nut clearance": -1.4}
    done = service_reading(ordinary("bass-five"), lambda target: relief.get(role(target), 0.0))
    after = tuple(one.model_copy(update={"after": 1}) for one in done.readings)
    made = made_of(
        service.model_copy(update={"work": (RodTurn(turns=0.25),), "readings": service.readings + after})
    )
    assert made.verdict == "beyond-setup"
    assert any("fill it or fit a new nut" in note for note in made.notes)


def test_a_saddle_that_is_not_cut_is_not_said_to_stand_too_high():
    """Two strings stand too low for it, so nothing is cut; that others stay high meanwhile is no fault of the neck."""
    action = {1: -2.4, 2: -1.6, 3: -0.5, 4: 0.6, 5: 1.8, 6: 2.4}

    def wish(target):  # type: ignore[no-untyped-def]
        return action[target.string] if role(target) == "action" else 0.0

    made = made_of(service_reading(ordinary("steel-acoustic-guitar"), wish))
    assert made.verdict == "beyond-setup"
    assert any("taller saddle" in note for note in made.notes)
    assert not any("cannot come down" in note for note in made.notes)


def test_a_neck_without_a_rod_is_not_left_because_a_string_is_to_be_read_again():
    """Relief that no reading waits for is told as beyond a set-up, whatever else is still to be read."""
    action = {1: -2.1, 2: -1.9, 3: -3.3, 4: -1.9, 5: -2.4, 6: 1.6}

    def wish(target):  # type: ignore[no-untyped-def]
        name = role(target)
        return action[target.string] if name == "action" else -1.96 if name == "relief" else 0.0

    made = made_of(service_reading(ordinary("nylon-acoustic-guitar"), wish))
    assert any("read it again" in note for note in made.notes)
    assert made.verdict == "read-first"
    assert any("this neck has no rod" in note for note in made.notes)


def test_posts_that_serve_every_string_are_not_said_to_have_travel_left_for_one():
    def wish(target):  # type: ignore[no-untyped-def]
        uneven = {8: 2.1, 7: -0.9, 6: 0.0, 5: 0.8, 4: -0.4, 3: 0.9, 2: -0.5, 1: 0.6}
        return uneven[target.string] if role(target) == "action" else 0.0

    made = made_of(service_reading(ordinary("mandolin"), wish))
    assert made.verdict == "beyond-setup"
    assert not any("plan again" in note for note in made.notes)
    assert any("moving further would put action at string" in note for note in made.notes)
