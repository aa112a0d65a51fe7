"""Trips of a plan: what is done in one go, what is slackened, what lies ready, minutes, and what is read at the end.

Minutes are the bench's: common practice, no source. Their sums below are derived from them by hand.
"""

import pytest

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.rounding import rounded_amount
from breakangle.planning.trips.laid import laid_out
from breakangle.reference.minutes import minutes_of
from planning_cases import made_of, only, ordinary, role, service_reading

EVERYTHING = (
    RodTurn(turns=0.25),
    SaddleHeight(string=6, mm=-0.3),
    NutSlot(string=2, mm=-0.1),
    Tune(),
    SaddlePosition(string=6, mm=0.8),
)
BY_POST = (SaddleHeight(post="bass", mm=-0.4), *EVERYTHING)


def acoustic() -> Instrument:
    return ordinary("steel-acoustic-guitar")


def electric() -> Instrument:
    return ordinary("electric-guitar")


def names(instrument: Instrument, moves: tuple[Adjustment, ...]) -> list[str]:
    return [one.kind.name for one in laid_out(moves, instrument)]


def test_with_screws_the_bridge_is_done_in_one_trip_and_intonation_in_the_last():
    assert names(electric(), EVERYTHING) == ["at-pitch", "bridge-heights", "nut", "to-pitch"]


def test_a_saddle_cut_by_hand_is_out_once_for_heights_and_crowns():
    laid = laid_out(BY_POST, acoustic())
    assert [one.kind.name for one in laid] == ["at-pitch", "saddle-out", "nut", "to-pitch"]
    assert [one.adjust for one in laid[1].moves] == ["saddle-height", "saddle-height", "saddle-position"]
    assert [one.adjust for one in laid[3].moves] == ["tune"]


def test_a_bridge_that_stands_loose_is_slid_in_the_last_trip():
    banjo = ordinary("banjo-five")
    slid = laid_out((SaddlePosition(string=1, mm=0.8),), banjo)
    assert [one.kind.name for one in slid] == ["to-pitch"]


def test_a_rod_alone_is_turned_read_and_tuned_in_one_trip():
    assert names(electric(), (RodTurn(turns=0.25), Tune())) == ["at-pitch"]


def test_strings_taken_off_a_saddle_are_tuned_again():
    laid = laid_out((SaddlePosition(string=6, mm=0.8),), acoustic())
    assert [one.kind.name for one in laid] == ["saddle-out", "to-pitch"]
    assert isinstance(laid[1].moves[0], Tune)


def test_nothing_to_do_is_no_trip():
    assert laid_out((), electric()) == ()
    assert laid_out((NutSlot(string=2, mm=-0.004),), electric()) == ()


def test_strings_that_work_has_moved_are_tuned_though_nothing_else_is_left():
    (only,) = laid_out((Tune(),), electric())
    assert (only.kind.name, only.moves) == ("at-pitch", (Tune(),))


@pytest.mark.parametrize(
    ("kind", "trip", "slacken"),
    [
        ("electric-guitar", "bridge-heights", "no"),
        ("mandolin", "bridge-heights", "a-little"),
        ("steel-acoustic-guitar", "saddle-out", "fully"),
        ("steel-acoustic-guitar", "nut", "a-little"),
        ("steel-acoustic-guitar", "at-pitch", "no"),
    ],
)
def test_strings_are_slackened_as_the_bridge_asks(kind, trip, slacken):
    instrument = ordinary(kind)
    laid = {one.kind.name: one for one in laid_out(EVERYTHING, instrument)}
    assert laid[trip].kind.slacken(laid[trip].moves, instrument) == slacken


def test_a_floating_bridge_is_slackened_before_its_height_is_turned():
    floating = electric().model_copy(
        update={"bridge": electric().bridge.model_copy(update={"kind": "floating"})}
    )
    (heights,) = [one for one in laid_out(EVERYTHING, floating) if one.kind.name == "bridge-heights"]
    assert heights.kind.slacken(heights.moves, floating) == "a-little"


def test_minutes_are_those_of_the_bench():
    """Derived: saddle 4 + 6; two slots of 1.5; a quarter turn is two eighths of 1; a screw 0.5; settling 3."""
    laid = {one.kind.name: one for one in laid_out((*BY_POST, NutSlot(string=1, mm=-0.1)), acoustic())}
    minutes = {name: one.kind.minutes(one.moves, acoustic()) for name, one in laid.items()}
    assert minutes == {"at-pitch": 2.0, "saddle-out": 10.0, "nut": 3.0, "to-pitch": 3.0}
    screws = {one.kind.name: one for one in laid_out(EVERYTHING, electric())}
    assert screws["bridge-heights"].kind.minutes(screws["bridge-heights"].moves, electric()) == 0.5
    assert screws["to-pitch"].kind.minutes(screws["to-pitch"].moves, electric()) == 3.5


def test_fewer_strings_are_slackened_sooner():
    """Derived: four strings of six take 4 · 4/6 minutes."""
    ukulele = ordinary("ukulele-concert")
    (out,) = [one for one in laid_out((SaddleHeight(post="bass", mm=-0.4),), ukulele) if one.kind.cuts]
    assert out.kind.minutes(out.moves, ukulele) == pytest.approx(4.0 * 4 / 6 + 6.0)


def test_a_plan_with_a_turn_of_the_rod_cuts_nothing_and_says_what_to_read():
    def wish(target):  # type: ignore[no-untyped-def]
        return {"relief": 3.0, "action": 6.0, "nut clearance": 2.5, "intonation": 2.5}[role(target)]

    made = made_of(service_reading(electric(), wish))
    trips = {one.name: one for one in made.trips}
    assert list(trips) == ["at-pitch", "bridge-heights", "to-pitch"]
    assert "the nut slot of strings 1 to 6 must wait until the rod is set" in made.notes[0]
    turned = [step for step in made.steps if step.adjustment.adjust == "rod"]
    assert {one.string for step in turned for one in step.expect} == {1, 6}
    assert all(len(one.held) == 2 for step in turned for one in step.expect)
    # Relief, and a few of the actions that are set next, before anything else is done; the rest once strings settled.
    relief = {one.string for one in trips["at-pitch"].reads if len(one.held) == 2}
    actions = [one for one in trips["at-pitch"].reads if len(one.held) != 2]
    assert relief == {1, 6}
    assert 1 <= len(actions) <= 3 and all((one.fret, one.held) == (12, (1,)) for one in actions)
    assert trips["bridge-heights"].reads == ()
    places = {(one.quantity, one.string, one.fret) for one in trips["to-pitch"].reads}
    touched = {step.adjustment.string for step in made.steps if step.adjustment.adjust == "saddle-height"}
    moved = {step.adjustment.string for step in made.steps if step.adjustment.adjust == "saddle-position"}
    assert touched == {1, 2, 3, 4, 5, 6}
    assert moved
    assert {("gap", one, 12) for one in touched} | {("pitch", one, 12) for one in moved} <= places
    relief = [one for one in trips["to-pitch"].reads if one.quantity == "gap" and len(one.held) == 2]
    assert {one.string for one in relief} == {1, 6}


def test_a_trip_to_the_nut_takes_its_minutes_and_is_read_at_the_end():
    def wish(target):  # type: ignore[no-untyped-def]
        return {"relief": 0.0, "action": 6.0, "nut clearance": 2.5, "intonation": 2.5}[role(target)]

    made = made_of(service_reading(electric(), wish))
    trips = {one.name: one for one in made.trips}
    assert list(trips) == ["bridge-heights", "nut", "to-pitch"]
    slots = [step.adjustment.string for step in made.steps if step.adjustment.adjust == "nut-slot"]
    assert slots
    assert {one.string for one in trips["to-pitch"].reads if one.fret == 1} == set(slots)
    assert trips["nut"].minutes == pytest.approx(minutes_of("slot") * len(slots))


def test_a_trip_of_a_saddle_out_is_read_for_height_and_pitch_only_at_the_end():
    def wish(target):  # type: ignore[no-untyped-def]
        return {"action": 3.0, "intonation": 1.3}.get(role(target), 0.0)

    made = made_of(service_reading(acoustic(), wish))
    trips = {one.name: one for one in made.trips}
    assert [one.name for one in made.trips] == ["saddle-out", "to-pitch"]
    shaped = [step for step in made.steps if step.adjustment.adjust == "saddle-position"]
    assert {step.trip for step in shaped} == {1}
    assert trips["saddle-out"].reads == ()
    read = {(one.quantity, one.string) for one in trips["to-pitch"].reads}
    assert {("gap", one) for one in range(1, 7)} <= read
    assert {("pitch", step.adjustment.string) for step in shaped} <= read


@pytest.mark.parametrize(
    ("kind", "given", "set_mm"),
    [
        # Steps: a tenth, a twentieth, a hundredth of a millimetre; common practice, no source.
        ("steel-acoustic-guitar", SaddleHeight(post="bass", mm=-0.438), -0.4),
        ("steel-acoustic-guitar", SaddleHeight(string=2, mm=-0.118), -0.1),
        ("steel-acoustic-guitar", SaddlePosition(string=2, mm=0.163), 0.2),
        ("steel-acoustic-guitar", NutSlot(string=2, mm=-0.0849), -0.08),
        # Derived: an eighth of the thread's 0.5 mm is 0.0625 mm, of 0.635 mm 0.079375 mm.
        ("electric-guitar", SaddleHeight(string=2, mm=-0.30), -0.3125),
        ("electric-guitar", SaddlePosition(string=2, mm=0.80), 0.79375),
    ],
)
def test_an_amount_is_one_that_hand_and_tool_can_set(kind, given, set_mm):
    instrument = ordinary(kind)
    threads = {"height_mm_per_turn": 0.5, "position_mm_per_turn": 0.635}
    if kind == "electric-guitar":
        bridge = instrument.bridge.model_copy(update=threads)
        instrument = instrument.model_copy(update={"bridge": bridge})
    made = rounded_amount(given, instrument)
    assert made is not None
    assert made.mm == pytest.approx(set_mm, abs=1e-6)  # type: ignore[attr-defined]


def test_a_change_smaller_than_a_hand_can_tell_is_dropped():
    assert rounded_amount(SaddleHeight(post="bass", mm=-0.04), acoustic()) is None
    assert rounded_amount(NutSlot(string=1, mm=-0.004), acoustic()) is None
    assert rounded_amount(RodTurn(turns=0.125), acoustic()) == RodTurn(turns=0.125)


def test_the_step_says_the_amount_that_its_screw_is_turned():
    made = made_of(service_reading(electric(), only("action", 2.0, 4)))
    (step,) = [one for one in made.steps if one.adjustment.adjust == "saddle-height"]
    per_turn = electric().bridge.height_mm_per_turn or 0.4
    eighths = abs(step.adjustment.mm) / per_turn * 8  # type: ignore[attr-defined]
    assert eighths == pytest.approx(round(eighths), abs=1e-4)
