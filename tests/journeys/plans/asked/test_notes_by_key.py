"""A plan's notes are found by their keys, never by how their words begin; what stays outside tells its sort and why."""

import pytest

from breakangle.documents.sheets.left import Reasons
from breakangle.model.instrument import Bridge
from breakangle.model.plan_form import READ_FIRST, plan_object
from breakangle.planning.explain.remarks import BEYOND, NOTHING_YET, TELLS_MOST
from breakangle.planning.kinds.reading_names import sort_named
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.services.service_files.compare import undecided
from planning_cases import good, made_of, only, ordinary, service_reading

FIXED = Bridge(kind="individual", height_travel_mm=(0.0, 0.0), position_travel_mm=(0.0, 0.0))


def far_out(name: str):
    """Return the plan of an electric whose bridge moves nowhere, with one sort of figure three tolerances off."""
    instrument = ordinary("electric-guitar").model_copy(update={"bridge": FIXED})
    return made_of(service_reading(instrument, only(name, 3.0)))


@pytest.mark.parametrize("name", ["action", "intonation"])
def test_what_stays_outside_is_told_to_an_owner_with_its_reason(name):
    (note,) = far_out(name).notes_of(BEYOND)
    assert note.of == name
    said = Reasons(beyond=(note,)).of(name, frozenset())
    assert said == f"It is beyond a set-up: {note.why}."
    assert note.why in note.words
    assert not Reasons(beyond=(note,)).of("relief", frozenset())


def test_strings_of_one_sort_and_reason_are_one_note():
    (note,) = far_out("action").notes_of(BEYOND)
    assert "action at strings 1 to 6 would still be" in note.words


def test_a_file_holds_the_words_of_the_notes_and_no_keys():
    plan = far_out("action")
    written = plan_object(plan)
    assert written["notes"] == list(plan.notes)
    assert {"noted", "unreached"}.isdisjoint(written)
    assert plan.without_notes(BEYOND).notes_of(BEYOND) == ()
    assert plan.without_notes("another").notes == plan.notes


def test_why_nothing_is_decided_yet_is_found_by_its_key():
    unread = good().model_copy(update={"readings": ()})
    plan = made_of(unread)
    assert undecided(plan) in {one.words for one in plan.notes_of(NOTHING_YET, *READ_FIRST)}
    assert undecided(plan.without_notes(NOTHING_YET, *READ_FIRST)) == ""
    assert len(plan.notes_of(TELLS_MOST)) <= 1


def test_the_sort_of_a_crown_reading_names_no_string():
    """So that a sheet has one row for a fret, not one for each string."""
    sorts = {sort_named(Crown(string=string, fret=5, mm=0.02)) for string in (1, 6)}
    assert sorts == {"Height of a crown, fret 5"}


@pytest.mark.parametrize(("strings", "told"), [((3, 4), "strings 3 and 4"), ((2,), "string 2")])
def test_strings_that_lie_on_a_crown_at_one_place_are_one_remark(strings, told):
    service = good()
    lying = [
        one.model_copy(update={"mm": 0.0})
        if isinstance(one, Gap) and one.held == (3,) and one.string in strings
        else one
        for one in service.readings
    ]
    (note,) = made_of(service.model_copy(update={"readings": tuple(lying)})).notes_of("plan.remark")
    assert note.words.startswith(
        f"No gap at {told} over fret 1, with fret 3 held: the string lies on the crown."
    )
