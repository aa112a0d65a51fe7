"""A body that pulls single notes: the harmonic is asked for, the saddle not blamed, known resonances reckoned."""

import json

import pytest

from breakangle.model.body import Body, Resonance
from breakangle.physics.bridge.body_pull import pull_cents, wave_impedance_kg_per_s
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.explain.body import with_heard_pulls
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.plan import plan
from breakangle.planning.state.effects.body import open_pull, pulls
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.families import family
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.service import plan_service, read_service
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.visits import add_instrument, open_visit
from shop_fixtures.people import later

pytest_plugins = ["shop_fixtures.shops"]

PULLED, BY_CENTS = 3, 11.0
HARMONIC = Pitch(string=PULLED, fret=0, harmonic=2, cents=0.0)
TOP = Body(resonances=(Resonance(hz=182.0, mass_kg=0.15, quality_ratio=30.0),))


def read(kind="steel-acoustic-guitar", *more, open_cents=BY_CENTS):
    """A good acoustic whose third string's open note alone stands sharp: all gaps and octaves are as they should be."""
    service = empty_service(family(kind))
    joint = service.instrument.joint_fret
    readings = [Gap(string=one, fret=7, held=(1, joint), mm=0.2) for one in (6, 1)]
    for one in range(1, 7):
        readings += [
            Gap(string=one, fret=12, held=(1,), mm=2.2 - 0.08 * (6 - one)),
            Gap(string=one, fret=1, held=(3,), mm=0.06),
            Pitch(string=one, fret=0, cents=open_cents if one == PULLED else 0.0),
            Pitch(string=one, fret=12, cents=0.0),
        ]
    return service.model_copy(update={"readings": (*readings, *more)})


def asked(made):
    return [one for one in made.questions if one.message.key == "effects.ask_harmonic"]


def octave_error(service):
    now = estimate(service)
    return float(now.picture.cents[PULLED - 1, 11])


def test_open_and_octave_that_disagree_ask_for_the_harmonic_once():
    service = read()
    (question,) = asked(plan(service, estimate(service)))
    assert [(one.string, one.harmonic) for one in question.readings] == [(PULLED, 2)]
    after = read("steel-acoustic-guitar", HARMONIC)
    assert asked(plan(after, estimate(after))) == []


def test_an_electric_is_not_asked_for_harmonics():
    service = read("electric-guitar")
    assert asked(plan(service, estimate(service))) == []


def test_the_harmonic_clears_the_saddle():
    """Without it the octave seems 8 cents flat or more; with it, right as the other strings' are."""
    before, after = read(), read("steel-acoustic-guitar", HARMONIC)
    assert octave_error(before) < -7.0
    assert abs(octave_error(after)) < 3.0
    made = plan(after, estimate(after))
    assert any(f"open note of string {PULLED} by +10" in one for one in made.notes)
    positions = [one.adjustment for one in made.steps if one.adjustment.adjust == "saddle-position"]
    assert not [one for one in positions if PULLED in one.strings]


def test_a_pull_that_is_none_is_not_said():
    service = read("steel-acoustic-guitar", HARMONIC, open_cents=1.0)
    made = plan(service, estimate(service))
    assert not any("pulls the open note" in one for one in made.notes)


def test_a_harmonic_near_the_top_does_not_decide():
    """A2's harmonic, 220 Hz, lies where many tops sing: the words say so."""
    service = read(
        "steel-acoustic-guitar",
        Pitch(string=5, fret=0, harmonic=2, cents=-9.0),
    )
    made = plan(service, estimate(service))
    assert any("one of them" in one and "string 5" in one for one in made.notes)


def test_known_resonances_shift_what_is_read_and_not_the_saddle():
    """G3 a little above a top at 182 Hz: the reckoned shift is that of the physics, and the saddle stays."""
    plain = read(open_cents=0.0)
    told = plain.model_copy(
        update={"instrument": plain.instrument.model_copy(update={"body": TOP}), "readings": ()}
    )
    board = estimate(told).board
    third = board.strings[PULLED - 1]
    by_hand = pull_cents(
        fundamental_hz=float(board.hz[PULLED - 1]),
        impedance_kg_per_s=wave_impedance_kg_per_s(
            tension_n=third.tension_n, unit_mass_g_per_m=third.unit_mass_g_per_m
        ),
        resonance_hz=[182.0],
        mass_kg=[0.15],
        quality_ratio=[30.0],
    )
    shift = pulls(board)
    assert shift is not None
    assert shift.cents[PULLED - 1, 0] == pytest.approx(float(by_hand))
    assert shift.cents[PULLED - 1, 0] > 5.0
    pulled_open = read(open_cents=float(by_hand))
    known = pulled_open.model_copy(update={"instrument": told.instrument})
    assert octave_error(pulled_open) < -5.0
    assert abs(octave_error(known)) < abs(octave_error(pulled_open)) - 3.0
    notes = plan(known, estimate(known)).notes
    assert any(f"pulls the open note of string {PULLED}" in one for one in notes)
    assert any("does not escape" in one for one in notes), "A2's harmonic lies 38 Hz above that top"


def test_a_body_in_the_file_is_kept_and_its_faults_named(tmp_path):
    service = read()
    body = json.loads(service.model_dump_json(exclude_unset=True))
    body["instrument"]["body"] = {"resonances": [{"hz": 182.0, "mass_kg": 0.15, "quality_ratio": 30.0}]}
    path = tmp_path / "service.json"
    path.write_text(json.dumps(body))
    assert read_service(path).instrument.body == TOP
    body["instrument"]["body"]["resonances"][0]["hz"] = 5.0
    path.write_text(json.dumps(body))
    with pytest.raises(Exception, match=r"resonances\[0\]\.hz.*30 to 2000 Hz"):
        read_service(path)


def test_what_earlier_visits_heard_is_counted_in_without_a_harmonic():
    """A visit whose harmonic was read teaches the next: its open note alone then does not blame the saddle."""
    taught = read("steel-acoustic-guitar", HARMONIC)
    today = read()
    known = with_heard_pulls(today, [taught])
    assert known.instrument.body is not None
    (heard,) = known.instrument.body.open_pulls
    assert (heard.string, heard.note) == (PULLED, "G3")
    assert heard.cents == pytest.approx(BY_CENTS, abs=1.0)
    assert octave_error(today) < -7.0
    assert abs(octave_error(known)) < 3.0
    made = plan_service(today, earlier=[taught])
    assert not asked(made)
    assert any("told at an earlier visit" in one for one in made.notes)
    twice = with_heard_pulls(today, [taught, taught]).instrument.body
    assert twice is not None
    assert twice.open_pulls[0].uncertainty_cents < heard.uncertainty_cents


def test_another_note_or_another_string_is_not_taken_for_what_was_heard():
    taught = read("steel-acoustic-guitar", HARMONIC)
    today = read()
    strings = tuple(
        one.model_copy(update={"note": "F3"}) if one.string == PULLED else one
        for one in today.instrument.strings
    )
    tuned = today.model_copy(update={"instrument": today.instrument.model_copy(update={"strings": strings})})
    assert with_heard_pulls(tuned, [taught]) == tuned
    assert with_heard_pulls(today, [read()]) == today, "no harmonic, nothing heard"
    electric = read("electric-guitar")
    assert with_heard_pulls(electric, [read("electric-guitar", HARMONIC)]) == electric


def test_readings_that_tell_nothing_leave_the_prior():
    drawn = open_pull(Known(BY_CENTS, 1e3), Known(0.0, 1e3), 0.0)
    assert abs(drawn.value) < 0.1


def test_a_visit_of_the_shop_remembers_what_the_one_before_heard(shop):
    instrument = read().instrument
    record = add_instrument(shop, later(), instrument)
    for visit_number, more in enumerate(((HARMONIC,), ())):
        when = later(days=200.0 * visit_number)
        visit = open_visit(shop, when, record)
        for one in (*read().readings, *more):
            take_reading(shop, visit.id, one, when)
    solved = solved_visit(shop, visit.id)
    assert any("told at an earlier visit" in one for one in solved.plan.notes)
    assert abs(float(solved.estimate.picture.cents[PULLED - 1, 11])) < 3.5
