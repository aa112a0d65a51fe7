"""What a plan must not ask for: a rod turned blindly or the wrong way, cuts in vain, work that helps nobody."""

import pytest

from breakangle.model.instrument import Bridge, Rod
from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.planning.plan import plan
from planning_cases import answered, ordinary, role, service_reading


def off(**tolerances: float):  # type: ignore[no-untyped-def]
    """Return what puts each role off by so many tolerances: `relief=2.0`, `nut_clearance=-2.0`, ..."""
    return lambda target: tolerances.get(role(target).replace(" ", "_"), 0.0)


def planned(service: Service):  # type: ignore[no-untyped-def]
    return plan(service, estimate(service))


def kinds(made) -> set[str]:  # type: ignore[no-untyped-def]
    return {step.adjustment.adjust for step in made.steps}


def worked(service: Service, *work: Adjustment, relief_mm: float | None = None) -> Service:
    """Return the service after this work, with relief read at both sides after it if `relief_mm`."""
    done = service.model_copy(update={"work": (*service.work, *work)})
    if relief_mm is None:
        return done
    before = [one for one in service.readings if isinstance(one, Gap) and len(one.held) == 2]
    again = [
        one.model_copy(update={"mm": relief_mm, "after": len(done.work)})
        for one in before
        if one.after == before[0].after
    ]
    return done.model_copy(update={"readings": (*done.readings, *again)})


def relief_mm(service: Service) -> float:
    return next(one.mm for one in service.readings if isinstance(one, Gap) and len(one.held) == 2)


def test_the_rod_is_not_turned_on_before_relief_is_read():
    service = service_reading(ordinary("banjo-five"), off(relief=-2.0, action=8.0))
    assert "rod" in kinds(planned(service))
    turned = worked(service, RodTurn(turns=-0.25))
    made = plan(turned, estimate(turned), (SaddleHeight(post="bass", mm=-1.0),))
    assert "rod" not in kinds(made)


def test_relief_that_reads_as_wanted_is_not_undone_for_something_else():
    service = service_reading(ordinary("electric-guitar"), off(relief=5.0, action=9.0))
    wanted = relief_mm(service) - 0.3  # five tolerances of 0.06
    for turn in range(4):
        at = relief_mm(service) - 0.3 * (turn + 1) / 4
        service = worked(service, RodTurn(turns=0.25), relief_mm=round(at, 3))
    assert wanted == pytest.approx(service.readings[-1].mm, abs=0.001)
    assert "rod" not in kinds(planned(service))


@pytest.mark.parametrize(("relief_off", "way"), [(3.0, 1.0), (-3.0, -1.0)])
def test_the_rod_is_turned_the_way_that_mends_relief(relief_off, way):
    made = planned(service_reading(ordinary("electric-guitar"), off(relief=relief_off, action=9.0)))
    turns = [step.adjustment.turns for step in made.steps if isinstance(step.adjustment, RodTurn)]
    assert turns
    assert all(one * way > 0.0 for one in turns)


def test_a_rod_that_answers_the_other_way_is_asked_about_and_not_turned():
    service = service_reading(ordinary("electric-guitar"), off(relief=3.5))
    made = planned(worked(service, RodTurn(turns=0.25), relief_mm=relief_mm(service) + 0.13))
    assert "rod" not in kinds(made)
    assert any("answered the other way" in note for note in made.notes)


def test_a_rod_that_hardly_answers_is_not_forced():
    service = service_reading(ordinary("electric-guitar"), off(relief=5.0))
    first = relief_mm(service)
    for turn in (1, 2, 3):
        service = worked(service, RodTurn(turns=0.25), relief_mm=round(first - 0.005 * turn, 3))
    made = planned(service)
    assert "rod" not in kinds(made)
    assert any("hardly answers" in note for note in made.notes)


def test_what_a_rod_has_left_is_less_after_a_turn():
    instrument = ordinary("electric-guitar").model_copy(update={"rod": Rod(kind="single", turns_left=0.25)})
    service = service_reading(instrument, off(relief=5.0))
    assert "rod" in kinds(planned(service))
    turned = worked(service, RodTurn(turns=0.25), relief_mm=relief_mm(service) - 0.1)
    assert turned.instrument_now().rod.turns_left == 0.0
    assert "rod" not in kinds(planned(turned))


def test_what_a_saddle_has_left_is_less_after_it_was_moved():
    bridge = Bridge(kind="individual", height_travel_mm=(-0.5, 0.5))
    instrument = ordinary("electric-guitar").model_copy(update={"bridge": bridge})
    service = service_reading(instrument, off(action=-8.0))
    raised = worked(service, *(SaddleHeight(string=number, mm=0.5) for number in range(1, 7)))
    low = [one for one in service.readings if isinstance(one, Gap) and len(one.held) == 1 and one.fret > 3]
    again = tuple(one.model_copy(update={"after": 6}) for one in low)
    made = planned(raised.model_copy(update={"readings": (*raised.readings, *again)}))
    assert not [step for step in made.steps if getattr(step.adjustment, "mm", 0.0) > 0.01]


def test_what_is_surely_out_is_not_called_good_for_want_of_a_reading():
    """Six turns with only relief read leave action uncertain by more than its tolerance, and out by far more."""
    service = service_reading(ordinary("electric-guitar"), off(relief=3.0, action=14.0))
    first = relief_mm(service)
    for turn in range(1, 7):
        service = worked(service, RodTurn(turns=0.25), relief_mm=round(first - 0.03 * turn, 3))
    made = planned(service)
    assert made.verdict != "leave"
    assert "saddle-height" in kinds(made)


def test_a_slot_that_reads_nothing_is_too_deep_and_nothing_is_filed():
    service = service_reading(ordinary("electric-guitar"), off())
    readings = tuple(
        one.model_copy(update={"mm": 0.0})
        if isinstance(one, Gap) and (one.string, one.fret, one.held) == (6, 1, (3,))
        else one
        for one in service.readings
    )
    service = service.model_copy(update={"readings": readings})
    made = planned(service)
    assert (made.verdict, answered(service).verdict) == ("read-first", "beyond-setup")
    assert "nut-slot" not in kinds(made)
    assert any("fill it or fit a new nut" in note for note in made.notes)
    assert not any("Loosen the rod" in note for note in made.notes)


def test_nothing_is_cut_from_a_saddle_that_has_to_be_replaced():
    service = service_reading(ordinary("nylon-acoustic-guitar"), off(action=-6.0, intonation=-3.0))
    made = planned(service)
    assert (made.verdict, answered(service).verdict) == ("read-first", "beyond-setup")
    assert not {"saddle-height", "saddle-position"} & kinds(made)
    assert any("taller saddle" in note for note in made.notes)
    assert not any("shim" in note for note in made.notes)


def test_a_deep_cut_asks_first_what_will_be_left_of_the_saddle():
    """Common practice, no source: about 2 mm of a saddle stay above its slot."""
    made = planned(service_reading(ordinary("steel-acoustic-guitar"), off(action=9.0)))
    deep = [step for step in made.steps if getattr(step.adjustment, "mm", 0.0) < -1.0]
    assert deep
    assert all(any("stands out of its slot" in one for one in step.caution) for step in deep)


def test_a_side_that_is_left_alone_is_not_cut_string_by_string():
    service = service_reading(ordinary("steel-acoustic-guitar"), off(action=6.0))
    made = plan(service, estimate(service), (SaddleHeight(post="bass", mm=-1.0),))
    assert "saddle-height" not in {
        one.adjustment.adjust for one in made.steps if getattr(one.adjustment, "string", None)
    }


@pytest.mark.parametrize("kind", ["electric-guitar", "twelve-string-guitar", "mandolin"])
def test_an_instrument_that_came_in_good_is_not_read_all_over_again(kind):
    made = planned(service_reading(ordinary(kind), off()))
    assert (made.verdict, made.read_again) == ("leave", ())


def test_strings_that_are_in_tune_are_not_tuned_before_their_saddles_are_moved():
    made = planned(service_reading(ordinary("electric-guitar"), off(intonation=4.0)))
    assert kinds(made) == {"saddle-position"}


def test_no_fret_is_held_where_a_short_string_does_not_run():
    instrument = ordinary("banjo-five")
    short = next(one for one in instrument.in_order() if one.nut_at_fret)
    for one in (Gap(string=short.string, fret=8, held=(1, 17), mm=0.2),):
        assert list(one.misfits(instrument)) == [
            ("held", f"frets above {short.nut_at_fret}, where string {short.string} begins")
        ]
    asked = [one for one in reading_kinds()["gap"].candidates(instrument) if one.string == short.string]
    assert asked
    assert all(min(one.held, default=36) > short.nut_at_fret for one in asked)


def test_a_neck_without_a_rod_is_not_told_of_one():
    instrument = ordinary("mandolin").model_copy(update={"rod": Rod(kind="none")})
    made = planned(service_reading(instrument, off(relief=4.0)))
    assert any("has no rod" in note for note in made.notes)
