"""What is said of a string that read nothing once, or against all others, and of a neck that stands on a head.

Rules of the bench are common practice, no source.
"""

from breakangle.model.instrument import Bridge
from breakangle.model.service import Service
from breakangle.planning.kinds.readings.gap import Gap
from planning_cases import answered, good, made_of, only, ordinary, service_reading

BEYOND, ROD = "Beyond a set-up: nut clearance", "Loosen the rod"


def with_nothing_at_the_nut(times: int) -> Service:
    service = good()
    nothing = Gap(string=5, fret=1, held=(3,), mm=0.0)
    place = (nothing.string, nothing.fret, nothing.held)
    rest = [
        one
        for one in service.readings
        if not isinstance(one, Gap) or (one.string, one.fret, one.held) != place
    ]
    return service.model_copy(update={"readings": (*rest, *[nothing] * times)})


def lying(mm: float = 0.0) -> Service:
    service = good()
    return service.model_copy(update={"readings": (*service.readings, Gap(string=5, fret=6, mm=mm))})


def test_a_slot_that_read_nothing_once_is_not_unknown_and_beyond_a_set_up_at_once():
    """It may be a slip, or not: the finding stands, and what follows from it waits for a second reading."""
    once, twice = made_of(with_nothing_at_the_nut(1)), made_of(with_nothing_at_the_nut(2))
    assert once.verdict == "read-first"
    assert any("lies on the crown" in note for note in once.notes)
    assert not any(note.startswith(BEYOND) for note in once.notes)
    assert any(note.startswith(BEYOND) for note in twice.notes)
    assert not any(note.startswith("Not judged") and "nut clearance" in note for note in twice.notes)
    assert answered(with_nothing_at_the_nut(1)).verdict == "beyond-setup"


def test_nothing_is_advised_on_a_reading_that_all_others_speak_against():
    """A string that clears every crown by a millimetre lies on none: it is read again, and no rod is loosened."""
    doubted = made_of(lying())
    assert any("lies on the crown of fret 6" in note for note in doubted.notes)
    assert not any(ROD in note for note in doubted.notes)
    assert any(one.readings[0].fret == 6 for one in doubted.questions if one.readings[0].string == 5)  # type: ignore[attr-defined]
    assert not doubted.steps


def test_a_bridge_too_high_for_its_neck_is_looked_for_in_the_head_first():
    """A tight head carries a banjo's bridge high: it is seen to before anybody sends the neck away."""
    banjo = made_of(service_reading(ordinary("banjo-five"), only("action", 17.0)))
    guitar = made_of(service_reading(ordinary("steel-acoustic-guitar"), only("action", 17.0)))
    assert "neck-reset" in {one.finding for one in banjo.findings} & {one.finding for one in guitar.findings}
    assert any("see to the head" in note for note in banjo.notes)
    assert not any("see to the head" in note for note in guitar.notes)


def test_no_neck_is_reset_for_a_bridge_at_its_end_under_strings_that_are_right():
    """Three hundredths too high at the bridge is more than the nothing it can still come down, and no reason at all."""
    bridge = Bridge(kind="individual", height_travel_mm=(0.0, 0.0), position_travel_mm=(-4.0, 4.0))
    stuck = ordinary("electric-guitar").model_copy(update={"bridge": bridge})
    assert not made_of(service_reading(stuck, only("action", 0.85, 3))).findings
    high = made_of(service_reading(stuck, only("action", 6.0)))
    assert [one.finding for one in high.findings] == ["neck-reset"]
