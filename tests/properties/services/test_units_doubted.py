"""Figures typed in inches where mm are expected are asked about, honest ones are not: counts of `bench/inches.py`."""

import json

import numpy as np
import pytest

from bench._typed_sheets import instrument_drawn, millimetres, sheet_drawn
from bench.inches import (
    asked_of,
    counted_on_a_ruler,
    gauge_or_scale_asked,
    honest,
    one_action,
    two_or_more,
    wholly_in_inches,
)
from breakangle.model.instrument import String
from breakangle.model.pitch import note_hz
from breakangle.model.service import Service
from breakangle.model.words.unit_said import as_told
from breakangle.planning.estimate.slips import slip_questions
from breakangle.planning.estimate.units_doubted import doubted_figures, units_questions, without_doubted
from breakangle.planning.estimate.units_doubted.likelihood import GRADUATIONS, Expectation, likelihood
from breakangle.planning.kinds.prior import prior_of
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.restrung import put_on, same_string
from breakangle.planning.state.board import board_of
from breakangle.reference.families import families, family
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.service_files.service import plan_service
from breakangle.services.strings.sizes import Candidate, fitted
from breakangle.services.strings.typed_strings import StringsTyped, StringTyped, typed_strings

# A fifth of what the bench counts: 300 of each, and 1,000 honest sheets.
COUNT, HONEST = 60, 200
ELECTRIC = usual_instrument(family("electric-guitar"), "Wren")


def service(*readings: Gap) -> Service:
    return Service(instrument=ELECTRIC, readings=readings)


def doubts(one: Service) -> dict[str, str]:
    prior = prior_of(board_of(one.instrument, one.reference_hz))
    return {found.figure.path: found.unit for found in doubted_figures(one, prior)}


def action(string: int, mm: float, **more: object) -> Gap:
    return Gap(string=string, fret=12, held=(1,), mm=mm, **more)


def relief(string: int, mm: float) -> Gap:
    return Gap(string=string, fret=8, held=(1, 17), mm=mm)


def test_every_sheet_wholly_in_inches_is_asked_about():
    assert asked_of("wholly", COUNT, wholly_in_inches, 11).asked == COUNT


def test_every_single_action_in_inches_is_asked_about():
    assert asked_of("action", COUNT, one_action, 12).asked == COUNT


def test_every_single_gauge_and_scale_in_inches_is_asked_about():
    rng = np.random.default_rng(13)
    assert all(gauge_or_scale_asked(rng) for _ in range(COUNT))


def test_sheets_with_two_or_more_figures_in_inches_are_asked_about():
    assert asked_of("two", COUNT, two_or_more, 14).share >= 0.95


def test_actions_counted_in_64ths_and_typed_bare_are_asked_about():
    assert asked_of("64ths", COUNT, counted_on_a_ruler, 15).share >= 0.95


def test_honest_sheets_in_mm_are_not_asked_about():
    number = iter(range(HONEST))
    found = asked_of("honest", HONEST, lambda rng: honest(rng, next(number)), 16, want=False)
    assert found.asked <= 2, found.others


@pytest.mark.parametrize("kind", families())
def test_the_usual_set_of_every_family_is_not_asked_about(kind):
    assert slip_questions(Service(instrument=usual_instrument(family(kind), "usual"))) == ()


def test_an_ordinary_set_is_not_asked_about_and_a_note_an_octave_off_is():
    rng = np.random.default_rng(17)
    for _ in range(COUNT):
        instrument = instrument_drawn(rng)
        assert slip_questions(Service(instrument=instrument)) == ()
        one = instrument.strings[int(rng.integers(len(instrument.strings)))]
        name, octave = one.note[:-1], int(one.note[-1])
        off = one.model_copy(update={"note": f"{name}{octave + 1 if octave < 2 else octave - 1}"})
        strings = tuple(off if each is one else each for each in instrument.strings)
        asked = slip_questions(Service(instrument=instrument.model_copy(update={"strings": strings})))
        assert [(each.ask, each.message.about[0]) for each in asked] == [("note", f"string {one.string}")]


def test_a_gauge_that_pulls_under_half_of_the_rest_is_asked_about_by_its_pull():
    # Pull goes with the square of the diameter (T = μ(2Lf)², μ ∝ d²), so 0.6 of the diameter is 0.36 of the pull.
    one = ELECTRIC.strings[1]
    thin = one.model_copy(update={"diameter_mm": one.diameter_mm * 0.6})
    strings = tuple(thin if each is one else each for each in ELECTRIC.strings)
    (asked,) = slip_questions(Service(instrument=ELECTRIC.model_copy(update={"strings": strings})))
    assert (asked.ask, asked.message.key) == ("gauge", "typed.gauge_pull")
    values = asked.message.values
    tension = board_of(ELECTRIC).tension_n
    assert values["pull_n"] == pytest.approx(0.36 * tension[1])
    assert values["others_n"] == pytest.approx(np.delete(tension, 1).mean())


def test_a_string_that_a_person_said_is_right_is_not_asked_about_and_counts_as_it_is():
    one = ELECTRIC.strings[1]
    thin = one.model_copy(update={"diameter_mm": one.diameter_mm * 0.6})
    low = ELECTRIC.strings[4].model_copy(update={"note": "A1"})
    for odd in (thin, low):
        strings = [odd if each.string == odd.string else each for each in ELECTRIC.strings]
        found = ELECTRIC.model_copy(update={"strings": tuple(strings)})
        asked = slip_questions(Service(instrument=found))
        assert len(asked) == 1
        assert without_doubted(Service(instrument=found), asked).instrument != found
        data = json.loads(found.model_dump_json(exclude_unset=True))
        data["strings"][odd.string - 1]["as_told"] = True
        said = Service.model_validate({"instrument": data})
        assert slip_questions(said) == ()
        assert without_doubted(said, ()).instrument == said.instrument
    whole = [
        each.model_copy(update={"note": f"{each.note[:-1]}{int(each.note[-1]) - 1}"})
        for each in ELECTRIC.strings
    ]
    assert len(slip_questions(Service(instrument=ELECTRIC.model_copy(update={"strings": tuple(whole)})))) == 1
    told = [String.model_validate(each.model_dump(exclude_unset=True) | {"as_told": True}) for each in whole]
    assert slip_questions(Service(instrument=ELECTRIC.model_copy(update={"strings": tuple(told)}))) == ()


def test_the_mark_is_of_one_string_alone_and_makes_it_no_other():
    one = ELECTRIC.strings[2]
    marked = String.model_validate(one.model_dump(exclude_unset=True) | {"as_told": True})
    assert same_string(one, marked)
    retuned = marked.model_copy(update={"note": "F#3"})
    strings = tuple(marked if each is one else each for each in ELECTRIC.strings)
    assert put_on(ELECTRIC, (retuned,)) == frozenset()
    assert put_on(ELECTRIC, (marked,)) == put_on(ELECTRIC, (one,)) == {one.string}
    odd = ELECTRIC.model_copy(update={"strings": strings})
    typed = typed_strings(odd, StringsTyped({one.string: StringTyped(diameter="0.3 mm")}))
    (new,) = [each for each in typed if each.string == one.string]
    assert (new.diameter_mm, as_told(new)) == (0.3, False)
    assert as_told(fitted(marked, Candidate(one.make, 0.3))) is False


def test_a_note_that_was_heard_is_no_octave_off_and_its_gauge_is_asked_about():
    """Half the diameter pulls a quarter, as a note an octave low does (T = μ(2Lf)², μ ∝ d²): hearing tells which."""
    one = ELECTRIC.strings[2]
    thin = one.model_copy(update={"diameter_mm": one.diameter_mm * 0.5})
    strings = tuple(thin if each is one else each for each in ELECTRIC.strings)
    found = ELECTRIC.model_copy(update={"strings": strings})
    (asked,) = slip_questions(Service(instrument=found))
    assert asked.ask == "note"
    for hz, ask in ((note_hz(one.note), "gauge"), (note_hz(one.note) * 2.0 ** (40 / 1200), "gauge")):
        heard = Pitch(string=one.string, fret=0, hz=hz)
        (asked,) = slip_questions(Service(instrument=found, readings=(heard,)))
        assert (asked.ask, asked.message.about[0]) == (ask, f"string {one.string}")
    other = Pitch(string=one.string + 1, fret=0, hz=note_hz(ELECTRIC.strings[3].note))
    (asked,) = slip_questions(Service(instrument=found, readings=(other,)))
    assert asked.ask == "note"


def test_a_relief_alone_that_may_be_honest_either_way_is_not_asked_about():
    assert doubts(service(relief(6, 0.02))) == {}
    assert doubts(service(relief(6, 0.0))) == {}


def test_one_figure_certainly_in_inches_makes_the_others_of_its_sheet_suspect():
    assert doubts(service(relief(6, 0.01), action(6, 1.6))) == {}
    assert doubts(service(relief(6, 0.01), action(6, 0.062))) == {"readings[0]": "in", "readings[1]": "in"}


def test_what_cannot_be_in_inches_is_not_suspect_beside_one_that_is():
    found = doubts(service(action(1, 0.047), action(2, 1.3), relief(1, 0.30)))
    assert found == {"readings[0]": "in"}


def test_a_figure_whose_unit_was_said_is_never_asked_about():
    assert doubts(service(action(6, 0.059, unit="mm"))) == {}
    assert doubts(service(action(6, 0.059)).model_copy(update={"unit": "mm"})) == {}
    assert doubts(service(action(6, 0.059, unit_unanswered=True), action(1, 0.06, unit="mm"))) == {
        "readings[0]": "in"
    }


def test_the_plan_of_a_doubted_sheet_is_that_of_the_rest_with_the_question_first():
    whole = service(action(1, 0.059), action(6, 1.8), relief(6, 0.25))
    plan = plan_service(whole)
    assert plan.questions[0].ask == "inches"
    assert plan.questions[0].readings == (whole.readings[0],)
    assert plan.questions[0].as_mm == 0.059
    assert plan.questions[0].as_inches == pytest.approx(0.059 * 25.4)
    rest = plan_service(service(*whole.readings[1:]))
    assert (plan.steps, plan.now) == (rest.steps, rest.now)


def test_leaving_out_what_is_doubted_leaves_the_rest_as_it_was():
    rng = np.random.default_rng(18)
    for _ in range(10):
        sheet, written = sheet_drawn(rng), millimetres(rng)
        readings = tuple(Gap(string=x.string, fret=x.fret, held=x.held, mm=written(x)) for x in sheet.figures)
        honest_one = Service(instrument=sheet.instrument, readings=readings)
        prior = prior_of(board_of(honest_one.instrument, honest_one.reference_hz))
        assert without_doubted(honest_one, units_questions(honest_one, prior)) is honest_one


def test_a_doubted_gauge_is_the_usual_one_until_it_is_answered():
    bass = usual_instrument(family("bass-four"), "Teal")
    low = bass.strings[-1].model_copy(update={"diameter_mm": 0.105, "core_mm": None})
    typed = Service(instrument=bass.model_copy(update={"strings": (*bass.strings[:-1], low)}))
    asked = units_questions(typed, prior_of(board_of(typed.instrument)))
    assert asked[0].as_inches == pytest.approx(0.105 * 25.4)
    assert without_doubted(typed, asked).instrument.strings[-1].diameter_mm == bass.strings[-1].diameter_mm


@pytest.mark.parametrize("unit", GRADUATIONS)
def test_shares_of_graduations_with_what_is_finer_than_any_make_a_whole(unit):
    assert 0.9 <= sum(GRADUATIONS[unit].values()) <= 1.0


@pytest.mark.parametrize("sized", [True, False])
def test_a_density_is_one_in_all(sized):
    expected = Expectation(1.8 if sized else 0.12, 0.45 if sized else 0.1, sized=sized)
    mm = np.linspace(1e-4, 40.0, 400_001)
    whole = np.trapezoid([expected.density(float(one)) for one in mm], mm)
    assert whole == pytest.approx(1.0, abs=0.02)


def test_the_same_length_is_likelier_as_it_is_usually_written():
    expected = Expectation(0.3, 0.15, sized=False)
    assert likelihood(0.012, "in", expected) > 10.0 * likelihood(0.012, "mm", expected)
