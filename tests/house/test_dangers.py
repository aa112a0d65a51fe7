"""Every step that can hurt says so: the cautions that are shown follow from the dangers that a step names.

What has to be said is told here a second time, and in another way: from what a step says it does, with what, and on
which bridge, to the words that a person must then have read. Neither the names of dangers nor those of cautions are
looked at. The reading is tried in both directions: whatever is struck, it has to be missed.
"""

from dataclasses import replace

import pytest

from breakangle.documents.sheets import hand_back
from breakangle.model.instrument import Bridge, Instrument, Rod
from breakangle.model.service import Service
from breakangle.planning.kinds.registry import adjustment_kinds
from breakangle.procedures.facts import usual_facts
from breakangle.reference import routine, strings
from breakangle.reference.families import families, family
from breakangle.reference.routine import cautions_against, dangers
from breakangle.reference.rows import read_table
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.strings.string_set import strings as with_strings
from breakangle.services.swap.cautions import swap_cautions
from danger_reading import STEPS, WORK, every_plan_step, made, missing, of_step, ordinary


@pytest.mark.parametrize("work", WORK, ids=lambda work: work.place)
def test_no_step_with_a_danger_lacks_its_caution(work):
    assert missing(work) == set()


@pytest.mark.parametrize("work", WORK, ids=lambda work: work.place)
def test_the_reading_misses_every_caution_that_is_struck(work):
    """Each sentence in turn is taken away: the reading of the step's own words must ask for it."""
    particular = ("turns this rod", "a slot is filed", "before cutting")
    for number, sentence in enumerate(work.said):
        if not sentence.lower().startswith(particular):
            bare = replace(work, said=work.said[:number] + work.said[number + 1 :])
            assert missing(bare) != set(), sentence


@pytest.mark.parametrize("name", dangers())
def test_a_danger_whose_cautions_are_struck_is_noticed(monkeypatch, name):
    """The table is broken, a row at a time: some step's own words must then ask for what is no longer said."""
    assert dangers()[name].cautions != ()
    bare = {**dangers(), name: replace(dangers()[name], cautions=())}
    monkeypatch.setattr(routine, "dangers", lambda: bare)
    left = [of_step(procedure, step) for procedure, step in STEPS]
    assert any(missing(work) for work in [*left, *every_plan_step()])


def test_every_step_names_its_dangers_even_if_there_are_none():
    assert [f"{name}/{step.id}" for name, step in STEPS if "dangers" not in step.model_fields_set] == []
    used = {danger for _, step in STEPS for danger in step.dangers}
    for name in families():
        usual = usual_instrument(family(name), "one")
        for bridge in (usual.bridge, Bridge(kind="floating")):
            instrument = usual.model_copy(update={"bridge": bridge, "rod": Rod()})
            for kind in adjustment_kinds().values():
                adjustment = ordinary(kind, instrument, -1.0, 1)
                named = kind.dangers(adjustment, instrument)
                assert named, kind.name
                assert cautions_against(named)
                used |= set(named)
    assert used == set(dangers())


def test_every_caution_belongs_to_a_danger():
    assert {name for row in dangers().values() for name in row.cautions} == set(routine.cautions())


@pytest.fixture
def titanium(monkeypatch) -> str:
    """A made-up make, whose key says neither steel nor nylon, as a row of the table would have it."""
    row = dict(read_table("materials/makes")["wound-steel"]) | {
        "material": "titanium",
        "words": "titanium-wound",
    }
    monkeypatch.setitem(read_table("materials/makes"), "titanium-wound", row)
    known = strings._makes() | {"titanium-wound": strings._make_of("titanium-wound", row)}
    monkeypatch.setattr(strings, "_makes", lambda: known)
    return "titanium-wound"


def restrung_with(instrument: Instrument, key: str) -> Instrument:
    strung = tuple(string.model_copy(update={"make": key, "wrap": None}) for string in instrument.strings)
    return instrument.model_copy(update={"strings": strung})


@pytest.mark.parametrize("kind", families())
def test_a_make_of_any_name_loses_no_caution(titanium, kind):
    """Procedures, plan, the owner's sheet and a swap say of titanium all that they say of steel."""
    usual = usual_instrument(family(kind), "one")
    steel, other = restrung_with(usual, "wound-steel"), restrung_with(usual, titanium)
    assert usual_facts(other) == usual_facts(steel)
    for adjustment_kind in adjustment_kinds().values():
        pair = [list(made(adjustment_kind, one)) for one in (steel, other)]
        assert [work.said for work in pair[0]] == [work.said for work in pair[1]]
    assert hand_back.cautions(other) == hand_back.cautions(steel)
    assert "eye protection" in hand_back.cautions(other)[0]
    service = Service(instrument=usual)
    figures = [with_strings(Service(instrument=one)) for one in (steel, other)]
    told = [[one.words for one in swap_cautions(service.instrument, each)] for each in figures]
    assert told[0] == told[1]
    if kind.startswith(("nylon", "ukulele")):
        assert "built for nylon: do not" in told[1][0]


def test_the_owner_of_a_nylon_set_is_told_of_its_wound_basses():
    classical = usual_instrument(family("nylon-acoustic-guitar"), "one")
    assert "eye protection" in hand_back.cautions(classical)[0]
    gut = restrung_with(classical, "gut")
    assert "eye protection" not in hand_back.cautions(gut)[0]
