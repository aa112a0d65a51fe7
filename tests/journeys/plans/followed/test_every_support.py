"""Every support of a string has its target, step and box: a short string's own nut, a zero fret, fret 1's pitch."""

import pytest

from breakangle.model.instrument import Nut
from breakangle.model.plan import Plan
from breakangle.model.service import Service, Targets
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.kinds.targets.gap import KIND, GapTarget
from breakangle.planning.state.board import board_of
from breakangle.services.readings.ways import Ways, usual_places
from planning_cases import made_of, only, ordinary, role, service_reading

BRIDGE = ("saddle-height", "saddle-position", "bridge-position")


def moved(made: Plan) -> set[tuple[str, int | None]]:
    return {(one.adjustment.adjust, getattr(one.adjustment, "string", None)) for one in made.steps}


def high_fifth_nut(held: tuple[int, ...], read: int = 2) -> Service:
    """Return a banjo whose fifth string stands six tolerances too high past its own nut, all else as wanted.

    A clearance .24 mm too high over the sixth fret, the eighth held, is .24 / .647 = .37 mm at the nut, and half of
    that at the octave of the open string, where the ordinary .05 mm adds .04: 2.40 + .19 + .04 = 2.62 mm [derived].
    """
    service = service_reading(ordinary("banjo-five"), only("nut clearance", 6.0, 5))
    own = tuple(one for one in service.readings if isinstance(one, Gap) and (one.string, one.fret) == (5, 6))
    service = service.model_copy(update={"readings": (*service.readings, *own * (read - 1))})
    if held:
        return service
    wish = GapTarget(string=5, fret=17, mm=2.40, tolerance_mm=0.1)
    kept = tuple(
        one for one in service.readings if not (isinstance(one, Gap) and (one.string, one.fret) == (5, 17))
    )
    lifted = Gap(string=5, fret=17, mm=2.62, uncertainty_mm=0.012)
    return service.model_copy(update={"readings": (*kept, lifted), "targets": Targets(wanted=(wish,))})


@pytest.mark.parametrize("held", [(6,), ()])
def test_a_high_fifth_nut_is_answered_at_the_fifth_nut_and_not_at_the_bridge(held):
    made = made_of(high_fifth_nut(held))
    assert ("nut-slot", 5) in moved(made)
    assert not [one for one in moved(made) if one[0] in BRIDGE]
    step = next(one for one in made.steps if one.adjustment.adjust == "nut-slot")
    assert "at its own nut, at fret 5" in step.reason
    assert "clearance past its own nut at string 5" in step.reason
    assert "The bridge has no part in it" in " ".join(step.caution)


@pytest.mark.parametrize("held", [(6,), ()])
def test_a_high_fifth_nut_read_but_once_cuts_no_bridge_either(held):
    assert not [one for one in moved(made_of(high_fifth_nut(held, read=1))) if one[0] in BRIDGE]


def test_every_string_has_a_target_at_its_nut_and_a_box_for_it():
    for instrument in (
        ordinary("banjo-five"),
        ordinary("electric-guitar").model_copy(update={"nut": Nut(kind="zero-fret")}),
    ):
        targets = house_targets(board_of(instrument), "medium")
        nuts = {one.string: one for one in targets if role(one) == "nut clearance"}
        assert set(nuts) == {one.string for one in instrument.strings}
        boxes = {(one.string, one.fret, one.held) for one in usual_places(instrument, Ways())["nut"]}
        assert boxes == {(one.string, one.fret, one.held) for one in nuts.values()}


def test_a_zero_fret_is_never_filed_and_is_named():
    instrument = ordinary("electric-guitar").model_copy(update={"nut": Nut(kind="zero-fret")})
    targets = house_targets(board_of(instrument), "medium")
    one = next(one for one in targets if role(one) == "nut clearance")
    assert target_kind(one).words(one, instrument) == f"clearance past the zero fret at string {one.string}"
    made = made_of(service_reading(instrument, only("nut clearance", 5.0)))
    assert not [one for one in moved(made) if one[0] == "nut-slot"]
    assert any("zero fret" in note and "levelling" in note for note in made.notes)


def test_what_is_beyond_a_short_strings_own_nut_is_said_of_that_nut():
    wish = GapTarget(string=5, fret=6, held=(8,), mm=0.05)
    for low in (True, False):
        assert "its own nut" in KIND.beyond(wish, low, ordinary("banjo-five"))


def test_the_pitch_of_the_first_fret_has_a_box_for_every_string():
    banjo = ordinary("banjo-five")
    boxes = [(one.quantity, one.string, one.fret) for one in usual_places(banjo, Ways())["first"]]
    assert boxes == [("pitch", 5, 6), ("pitch", 4, 1), ("pitch", 3, 1), ("pitch", 2, 1), ("pitch", 1, 1)]
