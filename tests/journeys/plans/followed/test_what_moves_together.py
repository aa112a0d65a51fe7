"""What moves together is said once: a loose bridge, a banjo's head, a floating bridge's posts, the pair of a course."""

import numpy as np
import pytest

from bench._instruments import arrival
from bench._maker import Bench
from breakangle.model.instrument import Bridge
from breakangle.model.plan import Plan
from breakangle.model.reading import Target
from breakangle.model.service import Service
from planning_cases import good, made_of, only, ordinary, role, service_reading


def kinds(made: Plan) -> list[str]:
    return [one.adjustment.adjust for one in made.steps]


def one_course_sharp(target: Target) -> float:
    if role(target) != "intonation":
        return 0.0
    return 1.3 if target.string in (3, 4) else -0.6


@pytest.mark.parametrize("kind", ["banjo-five", "banjo-tenor", "mandolin"])
def test_a_bridge_that_stands_loose_is_slid_once_as_a_whole(kind):
    """Ten cents of a scale's length, by its own geometry [derived]; what the finger stretches takes a little off."""
    instrument = ordinary(kind)
    made = made_of(service_reading(instrument, only("intonation", 2.0)))
    (step,) = made.steps
    assert (step.adjustment.adjust, step.adjustment.post) == ("bridge-position", None)
    assert step.reason.startswith("Slide the whole bridge")
    rough_mm = instrument.scale_mm * (2 ** (10 / 1200) - 1)
    assert step.adjustment.mm == pytest.approx(rough_mm, rel=0.25)
    assert "stands loose" in " ".join(step.caution)
    assert made.verdict == "adjust"


def test_crowns_of_a_loose_bridge_wait_until_it_was_slid_and_read():
    """A slide is set by eye: nothing is shaped beside it, and no crown is ever moved by more than its half width."""
    mandolin = ordinary("mandolin")

    def wish(target: Target) -> float:
        return (2.0 if target.string != 3 else 2.6) if role(target) == "intonation" else 0.0

    assert set(kinds(made_of(service_reading(mandolin, wish)))) == {"bridge-position"}
    # One course too sharp and all others a little flat: no slide serves them.
    near = made_of(service_reading(mandolin, one_course_sharp))
    crowns = [one.adjustment for one in near.steps if one.adjustment.adjust == "saddle-position"]
    assert [one.strings for one in crowns] == [(3, 4)]
    assert all(abs(one.mm) <= 0.9 for one in crowns)


def test_heights_of_a_loose_bridge_come_before_it_is_slid():
    wish = {"action": 4.0, "intonation": 2.0}
    made = made_of(service_reading(ordinary("mandolin"), lambda target: wish.get(role(target), 0.0)))
    assert kinds(made) == ["saddle-height", "saddle-height", "tune", "bridge-position"]


def test_a_bridge_that_is_screwed_down_or_in_tune_is_not_slid():
    fixed = made_of(service_reading(ordinary("electric-guitar"), only("intonation", 5.0)))
    in_tune = made_of(good("banjo-five"))
    assert "bridge-position" not in (*kinds(fixed), *kinds(in_tune))


@pytest.mark.parametrize("kind", ["banjo-five", "banjo-tenor"])
def test_the_head_of_a_banjo_is_seen_to_before_its_bridge_is_cut(kind):
    cut = made_of(service_reading(ordinary(kind), only("action", 4.0)))
    assert "saddle-height" in kinds(cut)
    assert any("see to the head" in note and "coordinator" in note for note in cut.notes)
    slid = made_of(service_reading(ordinary(kind), only("intonation", 2.0)))
    mandolin = made_of(service_reading(ordinary("mandolin"), only("action", 4.0)))
    assert not any("the head" in note for note in (*slid.notes, *mandolin.notes))


def test_a_course_on_one_crown_is_judged_as_a_pair():
    made = made_of(service_reading(ordinary("twelve-string-guitar"), only("intonation", 1.2, 3, 4)))
    crowns = [one for one in made.steps if one.adjustment.adjust == "saddle-position"]
    assert [one.adjustment.strings for one in crowns] == [(3, 4)]
    assert "strings 3 and 4" in crowns[0].reason
    assert {one.string for one in crowns[0].expect} == {3, 4}


def test_a_floating_bridge_that_stands_too_high_comes_down_at_its_posts():
    floating = ordinary("electric-guitar").model_copy(update={"bridge": Bridge(kind="floating")})
    whole = made_of(service_reading(floating, only("action", 4.0)))
    heights = [one for one in whole.steps if one.adjustment.adjust == "saddle-height"]
    assert [one.adjustment.post for one in heights] == ["bass", "treble"]
    assert all("plate" in " ".join(one.caution) for one in heights)
    assert all(one.screw is None for one in heights)
    single = made_of(service_reading(floating, only("action", 2.0, 3)))
    assert [one.adjustment.string for one in single.steps if one.adjustment.adjust == "saddle-height"] == [3]


def test_no_hair_is_taken_off_by_hand():
    """A tenth off a whole saddle, a twentieth off one crown, two hundredths in a slot; common practice, no source."""
    moved = []
    for seed in range(6):
        one = arrival("steel-acoustic-guitar", seed)
        read = Bench(one, np.random.default_rng(seed + 10**6)).full_set()
        moved += [
            step.adjustment
            for step in made_of(Service(instrument=one.instrument, readings=tuple(read))).steps
            if step.adjustment.adjust in ("saddle-height", "nut-slot")
        ]
    assert len(moved) > 6
    for one in moved:
        least = 0.02 if one.adjust == "nut-slot" else 0.1 if one.post else 0.05
        assert abs(one.mm) >= least - 1e-9, one
