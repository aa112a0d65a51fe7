"""What stands at its edge is left once, and brought nearer when it is asked for twice; what nothing raises is not sunk.

Rules of the bench are common practice, no source.
"""

from collections.abc import Callable
from dataclasses import replace

import pytest

from breakangle.model.instrument import Bridge
from breakangle.model.reading import Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.explain.remarks import BEYOND
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.plan import plan
from planning_cases import made_of, only, ordinary, role, service_reading


def read_again(service: Service) -> Service:
    """The same readings once more, after a tuning."""
    again = tuple(one.model_copy(update={"after": 1}) for one in service.readings)
    return service.model_copy(update={"work": (Tune(),), "readings": service.readings + again})


@pytest.mark.parametrize("kind", ["electric-guitar", "steel-acoustic-guitar"])
def test_what_stands_near_its_edge_is_brought_nearer_where_all_is_read_a_second_time(kind):
    once = service_reading(ordinary(kind), only("action", 0.85, 3))
    assert not made_of(once).steps
    made = made_of(read_again(once))
    heights = [one.adjustment for one in made.steps if one.adjustment.adjust != "tune"]
    assert [(one.adjust, one.string) for one in heights] == [("saddle-height", 3)]
    assert heights[0].mm < 0.0
    assert any(note.startswith("Everything was read a second time") for note in made.notes)


def test_what_stands_near_its_edge_is_brought_nearer_on_a_later_visit():
    service = service_reading(ordinary("electric-guitar"), only("action", 0.85, 3))
    now = estimate(service)
    back = replace(now, belief=replace(now.belief, seen_before=True))
    assert not plan(service, now).steps
    assert [one.adjustment.adjust for one in plan(service, back).steps] == ["saddle-height", "tune"]


STUCK = Bridge(kind="individual", height_travel_mm=(0.0, 0.0), position_travel_mm=(-4.0, 4.0))
# Brings 1.78 tolerances to 0.9: a gap at the octave moves about half as far as its saddle.
COMES_DOWN_LITTLE = ordinary("electric-guitar").bridge.model_copy(update={"height_travel_mm": (-0.19, 1.0)})
# Brings 1.78 tolerances to 1.2; and one string's 1.5 to 1.08.
COMES_DOWN_TOO_LITTLE = COMES_DOWN_LITTLE.model_copy(update={"height_travel_mm": (-0.15, 1.0)})
ENDS_JUST_OUTSIDE = COMES_DOWN_LITTLE.model_copy(update={"height_travel_mm": (-0.09, 1.0)})


def on(bridge: Bridge, off: Callable[[Target], float]) -> Service:
    """The ordinary electric on another bridge, read."""
    return service_reading(ordinary("electric-guitar").model_copy(update={"bridge": bridge}), off)


def test_what_is_inside_and_cannot_be_brought_nearer_is_not_beyond_a_set_up():
    made = made_of(read_again(on(STUCK, only("action", 0.85, 3))))
    assert made.verdict == "leave"
    assert not made.notes_of(BEYOND)


@pytest.mark.parametrize("how", ["once", "twice", "later"])
@pytest.mark.parametrize(
    ("off", "told"),
    [
        (1.14, "beyond-setup"),
        (1.08, "leave"),
    ],  # past its edge by more, and by less, than it is known by once read
)
def test_what_reads_just_outside_and_has_no_travel_left_is_told_alike_however_often_it_is_read(
    off, told, how
):
    once = on(STUCK, only("action", off))
    now = estimate(read_again(once) if how == "twice" else once)
    if how == "later":
        now = replace(now, belief=replace(now.belief, seen_before=True))
    made = plan(read_again(once) if how == "twice" else once, now)
    assert made.verdict == told
    assert {one.of for one in made.notes_of(BEYOND)} == ({"action"} if told == "beyond-setup" else set())
    assert not made.steps


def test_what_is_expected_to_end_just_outside_once_its_steps_are_done_is_not_called_beyond_before():
    made = made_of(on(ENDS_JUST_OUTSIDE, only("action", 1.5, 3)))
    assert made.verdict == "adjust"
    assert not made.notes_of(BEYOND)


def test_the_rod_is_lent_on_a_second_set_as_on_the_first():
    """All actions far out, a bridge that brings them half way down, relief with room: read once, and read twice."""
    once = on(COMES_DOWN_TOO_LITTLE, only("action", 1.78))
    for service in (once, read_again(once)):
        made = made_of(service)
        assert made.verdict == "adjust"
        assert "rod" in [one.adjustment.adjust for one in made.steps]
        assert not made.notes_of(BEYOND)


def test_the_rod_is_not_lent_to_heights_that_are_inside_their_whole_tolerance():
    """Read twice, all actions at three quarters of it, nothing to bring them nearer, relief with room for a turn."""
    service = on(STUCK, lambda target: {"action": 0.75, "relief": 0.3}.get(role(target), 0.0))
    for made in (made_of(service), made_of(read_again(service))):
        assert made.verdict == "leave"
        assert not made.steps


def test_the_rod_is_lent_to_heights_that_are_outside():
    service = on(STUCK, lambda target: {"action": 1.3, "relief": 0.3}.get(role(target), 0.0))
    assert "rod" in [one.adjustment.adjust for one in made_of(service).steps]


@pytest.mark.parametrize("back", [False, True])
def test_what_the_travel_that_is_left_brings_inside_is_not_beyond_a_set_up(back):
    service = on(COMES_DOWN_LITTLE, only("action", 1.78))
    now = estimate(service)
    made = plan(service, replace(now, belief=replace(now.belief, seen_before=back)))
    assert made.verdict == "adjust"
    assert not made.findings
    assert not made.notes_of(BEYOND)
    lowered = [one.adjustment.mm for one in made.steps if one.adjustment.adjust == "saddle-height"]
    assert lowered == pytest.approx([-0.19] * 6, abs=0.005)


@pytest.mark.parametrize("again", [False, True])
@pytest.mark.parametrize("off", [0.95, 1.0])
def test_no_neck_is_reset_for_actions_inside_their_tolerance_on_a_bridge_at_its_end(off, again):
    service = on(STUCK, only("action", off))
    made = made_of(read_again(service) if again else service)
    assert made.verdict == "leave"
    assert not made.findings


def test_a_neck_is_reset_for_actions_far_outside_on_a_bridge_at_its_end():
    made = made_of(on(STUCK, only("action", 2.0)))
    assert made.verdict == "beyond-setup"
    assert [one.finding for one in made.findings] == ["neck-reset"]


def inside_but_bowed(target: Target) -> float:
    return {"relief": 1.6, "action": -0.2}.get(role(target), 0.0)


@pytest.mark.parametrize("doubtful", [False, True])
def test_the_rod_is_not_turned_on_where_relief_is_inside_and_strings_would_sink_that_nothing_raises(doubtful):
    """One action that reads far off makes the whole saddle wait; what the rod does to it counts all the same."""
    acoustic = ordinary("steel-acoustic-guitar")
    service = service_reading(acoustic, inside_but_bowed)
    after = [
        one.model_copy(update={"after": 1})
        for one in service_reading(acoustic, only("relief", 0.95)).readings
        if isinstance(one, Gap) and len(one.held) == 2
    ]
    actions = [one for one in service.readings if isinstance(one, Gap) and one.string == 4 and one.fret > 5]
    odd = [one.model_copy(update={"after": 1, "mm": 0.5}) for one in actions] if doubtful else []
    turned = service.model_copy(
        update={"work": (RodTurn(turns=0.25),), "readings": (*service.readings, *after, *odd)}
    )
    made = made_of(turned)
    assert not [one for one in made.steps if one.adjustment.adjust == "rod"]
    assert made.verdict == ("read-first" if doubtful else "adjust")
