"""A way through a procedure: whatever is pressed, every step is reached, order is told, nothing is lost."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from breakangle.model.errors import CorrectInputError
from breakangle.procedures.model import Procedure
from breakangle.procedures.shelf import own_procedures
from breakangle.procedures.way import (
    Way,
    acts_done,
    back,
    begin,
    go_to,
    leave_out,
    next_step,
    seen,
    start_timer,
    timer_seen,
    with_facts,
)
from breakangle.reference.routine import facts

AT = datetime(2027, 3, 1, 10, 0, tzinfo=UTC)
OURS = own_procedures()
FACTS = st.fixed_dictionaries(
    {}, optional={name: st.sampled_from(one.choices) for name, one in facts().items()}
)
MOVES = st.lists(st.sampled_from(["next", "anyway", "back", "leave", "timer", "go"]), max_size=40)


def pressed(of: Procedure, way: Way, moves: list[str], at: datetime = AT) -> Way:
    for move in moves:
        at += timedelta(seconds=40)
        try:
            if move in ("next", "anyway"):
                way = next_step(of, way, at, move == "anyway").way
            elif move == "back":
                way = back(of, way)
            elif move == "leave":
                way = leave_out(of, way, at)
            elif move == "timer":
                way = start_timer(of, way, at)
            else:
                way = go_to(of, way, of.steps_for(way.facts)[len(way.marks) % 3 - 1].id)
        except CorrectInputError:
            continue
    return way


@given(st.sampled_from(sorted(OURS)), FACTS, MOVES)
def test_a_way_goes_to_json_and_back_at_every_place(name, known, moves):
    of = OURS[name]
    if not of.steps_for(known):
        return
    way = pressed(of, begin(of, known, AT), moves)
    again = Way.model_validate_json(way.model_dump_json(exclude_unset=True))
    assert again == way
    assert seen(of, again, AT) == seen(of, way, AT)


@given(st.sampled_from(sorted(OURS)), FACTS, MOVES)
def test_every_step_is_reached_and_none_twice(name, known, moves):
    """From any place, going on with `anyway` ends with every step done or left out."""
    of = OURS[name]
    steps = [one.id for one in of.steps_for(known)]
    if not steps:
        return
    way = pressed(of, begin(of, known, AT), moves)
    left = sum(one not in way.marks for one in steps)
    pressed_count = 0
    while way.place is not None:
        assert way.place not in way.marks
        way = next_step(of, way, AT, anyway=True).way
        pressed_count += 1
    assert pressed_count == left
    assert set(way.marks) == set(steps)
    done = seen(of, way, AT)
    assert (done.step, done.minutes_left) == (None, 0.0)
    with pytest.raises(CorrectInputError, match="finished"):
        next_step(of, way, AT)


@given(st.sampled_from(sorted(OURS)), FACTS, MOVES)
def test_back_undoes_next(name, known, moves):
    of = OURS[name]
    if not of.steps_for(known):
        return
    way = pressed(of, begin(of, known, AT), moves)
    if way.place is None or way.place in (of.steps_for(known)[-1].id,):
        return
    ids = [one.id for one in of.steps_for(known)]
    on = next_step(of, way, AT, anyway=True).way
    if on.place is not None and ids.index(on.place) == ids.index(way.place) + 1:
        assert back(of, on).place == way.place
        assert way.place not in back(of, on).marks


@given(st.sampled_from(sorted(OURS)), FACTS)
def test_in_its_usual_order_nothing_speaks_against_a_step_but_a_timer(name, known):
    """Whoever does every step in turn hears of nothing but what has to stand, and of earlier procedures."""
    of = OURS[name]
    if not of.steps_for(known):
        return
    way, at = begin(of, known, AT), AT
    before = frozenset({"read", "slacken", "settle", "unplug"})
    while way.place is not None:
        here = seen(of, way, at, before)
        assert here.step is not None
        assert here.against == ()
        if here.step.timer is not None:
            assert next_step(of, way, at, acts_before=before).against != ()
            way, at = start_timer(of, way, at), at + timedelta(seconds=here.step.timer.least_s + 1)
        moved = next_step(of, way, at, acts_before=before)
        assert moved.against == ()
        way = moved.way


def test_oil_before_the_block_is_told_and_done_anyway():
    of = OURS["clean-and-oil"]
    way = begin(of, {"board": "bare", "worth": "ordinary"}, AT)
    way = go_to(of, way, "oil")
    held = next_step(of, way, AT)
    assert held.way == way
    reasons = [one.reason for one in held.against]
    assert any("Oil clogs the abrasive block" in one for one in reasons)
    assert [one.first for one in held.against][:1] == ["rub"]
    done = next_step(of, way, AT, anyway=True)
    assert done.against == ()
    assert set(done.way.marks["oil"].against) == set(reasons)
    late = seen(of, go_to(of, done.way, "rub"), AT)
    assert any("Oil clogs" in one.reason for one in late.against)


def test_cutting_before_slackening_is_told_even_when_slackening_was_left_out():
    of = OURS["unstring"]
    way = begin(of, {"strings": "steel", "bridge": "individual", "anchor": "ball"}, AT)
    while way.place != "slacken":
        way = next_step(of, way, AT).way
    way = leave_out(of, way, AT, "no time")
    assert way.place == "cut"
    assert [one.first for one in next_step(of, way, AT).against] == ["slacken"]
    assert way.marks["slacken"].why == "no time"


def test_trimming_waits_for_settling_wherever_that_was_done():
    of = OURS["hand-back"]
    way = go_to(of, begin(of, {}, AT), "trim")
    reasons = " ".join(one.reason for one in seen(of, way, AT).against)
    assert "when it has settled" in reasons
    assert "after the last check" in reasons
    settled = OURS["settle"]
    through = begin(settled, {"bridge": "individual"}, AT)
    while through.place is not None:
        through = next_step(settled, through, AT).way
    acts = acts_done(settled, through)
    assert "settle" in acts
    way = next_step(of, begin(of, {}, AT), AT).way
    assert way.place == "trim"
    assert seen(of, way, AT, acts).against == ()


def test_the_floating_bridge_is_blocked_first():
    of = OURS["unstring"]
    way = go_to(of, begin(of, {"bridge": "floating", "strings": "steel"}, AT), "slacken")
    assert {"block", "read"} == {one.first for one in seen(of, way, AT).against}
    fixed = go_to(of, begin(of, {"bridge": "individual", "strings": "steel"}, AT), "slacken")
    assert {"read"} == {one.first for one in seen(of, fixed, AT).against}


@given(st.floats(0.0, 600.0))
def test_oil_stands_two_to_three_minutes(seconds):
    timer = next(one.timer for one in OURS["clean-and-oil"].steps if one.id == "oil")
    assert timer is not None
    found = timer_seen(timer, AT, AT + timedelta(seconds=seconds))
    assert found.state == (
        "standing" if seconds < 119.9999 else "ready" if seconds <= 180.0 else "too long"
    ) or (119.9 < seconds < 120.1)
    assert found.left_s == pytest.approx(max(120.0 - seconds, 0.0), abs=1e-3)
    assert timer_seen(timer, None, AT).state == "not started"


def test_what_is_told_later_moves_the_way_on():
    of = OURS["clean-and-oil"]
    way = go_to(of, begin(of, {}, AT), "oil")
    assert seen(of, way, AT).unsure == ("board",)
    told = with_facts(of, way, {"board": "lacquered"})
    assert told.place == "uncover"
    assert seen(of, told, AT).unsure == ()
    assert with_facts(of, way, {"board": "bare"}).place == "oil"


def test_no_steps_for_an_instrument_without_wires():
    with pytest.raises(CorrectInputError, match="no step"):
        begin(OURS["electronics-check"], {"electrics": "no"}, AT)
