"""Procedures in a visit, on both engines: begun, timed, left and come back to; a shop's own among ours."""

import json
from datetime import timedelta

import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.model.service_file import ServiceFileError
from breakangle.procedures.shelf import own_procedures, procedure_json
from breakangle.services.procedures.at_visit import (
    drop_procedure,
    facts_of,
    procedure,
    procedures,
    run_back,
    run_go_to,
    run_leave_out,
    run_next,
    run_seen,
    run_timer,
    run_told,
    runs,
    save_procedure,
    start_run,
    told,
)
from breakangle.services.service_files.example import example_service
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.storage.records.records import Visit
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp
from shop_fixtures.people import ADA, BO, START, later

pytest_plugins = ["shop_fixtures.shops"]
OWN = """
name = "house-wipe"
title = "The house's wipe-down"
purpose = "How this shop wipes down."
rank = 35

[[steps]]
id = "wipe"
do = "Wipe it down with the shop's own cloth."
why = "Because the shop says so."
minutes = 2
cautions = ["solvent-air"]
"""


@pytest.fixture
def visit(shop) -> Visit:
    record = add_instrument(shop, ADA, example_service().instrument)
    return open_visit(shop, ADA, record, "new strings", 20.0, 45.0)


def test_a_person_cleans_and_oils_with_a_timer_and_comes_back_after_a_break(shop, visit):
    run = start_run(shop, ADA, visit.id, "clean-and-oil")
    assert run.asks == ("board", "worth")
    run = run_told(shop, later(minutes=1), run.record.id, {"board": "bare", "worth": "ordinary"})
    assert run.asks == ()
    while run.seen.step is not None and run.seen.step.id != "oil":
        run = run_next(shop, later(minutes=2), run.record.id)
        assert run.against == ()
    held = run_next(shop, later(minutes=3), run.record.id)
    assert held.seen.step is not None
    assert held.seen.step.id == "oil"
    assert "not been timed" in held.against[0].reason
    run = run_timer(shop, later(minutes=3), run.record.id)
    again = run_seen(shop, run.record.id, START + timedelta(minutes=4))
    assert again.seen.timer is not None
    assert (again.seen.timer.state, again.seen.timer.left_s) == ("standing", 60.0)
    early = run_next(shop, later(minutes=4), run.record.id)
    assert "60 s of 120 s are left" in early.against[0].reason
    run = run_next(shop, later(minutes=5.5), run.record.id)
    assert run.against == ()
    assert run.seen.step is not None
    assert run.seen.step.id == "dry"
    run = run_back(shop, later(minutes=6), run.record.id)
    assert run.seen.step is not None
    assert run.seen.step.id == "oil"


def test_one_procedure_knows_what_another_did_in_the_visit(shop, visit):
    hand_back = start_run(shop, ADA, visit.id, "hand-back")
    hand_back = run_next(shop, ADA, hand_back.record.id)
    assert any("settled" in one.reason for one in hand_back.seen.against)
    settle = start_run(shop, ADA, visit.id, "settle")
    while settle.seen.step is not None:
        settle = run_next(shop, ADA, settle.record.id)
    again = run_seen(shop, hand_back.record.id, START)
    assert again.seen.against == ()
    assert [one.procedure.name for one in runs(shop, visit.id, START)] == ["hand-back", "settle"]


def test_facts_told_once_are_known_in_the_visits_next_run(shop, visit):
    first = start_run(shop, ADA, visit.id, "restring", {"tuners": "locking"})
    assert first.asks == ()
    second = start_run(shop, ADA, visit.id, "restring")
    assert second.way.facts["tuners"] == "locking"
    assert second.way.facts["strings"] == "steel"


def test_leaving_out_going_anywhere_and_doing_it_anyway(shop, visit):
    run = start_run(shop, ADA, visit.id, "unstring")
    run = run_leave_out(shop, ADA, run.record.id, "read yesterday")
    assert run.way.marks["read"].why == "read yesterday"
    run = run_go_to(shop, ADA, run.record.id, "cut")
    held = run_next(shop, ADA, run.record.id)
    assert held.against
    assert held.record.version == run.record.version
    done = run_next(shop, BO, run.record.id, anyway=True)
    assert done.against == ()
    assert done.way.marks["cut"].against == tuple(one.reason for one in held.against)
    assert done.record.changed_by == "Bo"
    with pytest.raises(CorrectInputError, match="step 'fly'"):
        run_go_to(shop, ADA, run.record.id, "fly")


def test_a_shop_adds_its_own_and_edits_ours_and_drops_them_again(shop, visit):
    save_procedure(shop, ADA, OWN)
    listed = {one.name: one for one in procedures(shop)}
    assert listed["house-wipe"].whose == "the shop's"
    assert list(listed).index("house-wipe") == list(listed).index("clean-and-oil") + 1
    assert "house-wipe" not in {one.name for one in procedures()}
    run = start_run(shop, ADA, visit.id, "house-wipe")
    assert run.seen.count == 1
    ours = own_procedures()["hand-back"]
    edited = json.loads(procedure_json(ours))
    edited["steps"] = [one for one in edited["steps"] if one["id"] != "wipe"]
    kept = save_procedure(shop, ADA, edited)
    assert {one.name: one.whose for one in procedures(shop)}["hand-back"] == "ours, edited by the shop"
    assert len(procedure("hand-back", shop).steps) == len(ours.steps) - 1
    assert "Wipe it down" not in told("hand-back", shop=shop)
    save_procedure(shop, BO, edited, kept.version)
    with pytest.raises(EditedMeanwhileError):
        save_procedure(shop, ADA, edited, kept.version)
    drop_procedure(shop, ADA, "hand-back")
    assert procedure("hand-back", shop) == ours
    with pytest.raises(CorrectInputError, match="no procedure 'hand-back' of its own"):
        drop_procedure(shop, ADA, "hand-back")


def test_a_procedure_edited_under_a_run_does_not_break_it(shop, visit):
    run = start_run(shop, ADA, visit.id, "hand-back")
    edited = json.loads(procedure_json(own_procedures()["hand-back"]))
    edited["steps"] = edited["steps"][2:]
    save_procedure(shop, ADA, edited)
    stranded = run_seen(shop, run.record.id, START)
    assert stranded.seen.step is None
    assert stranded.seen.count == 4
    back_on = run_go_to(shop, ADA, run.record.id, "wipe")
    assert back_on.seen.step is not None


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"name": "No Name"}, "$.name"),
        ({"steps": []}, "$.steps"),
        ({"steps": [{"id": "a", "do": "x.", "why": "y.", "cautions": ["fire"]}]}, "$.steps[0].cautions[0]"),
        ({"steps": [{"id": "a", "do": "x.", "why": "y.", "when": {"moon": ["full"]}}]}, "$.steps[0].when"),
        ({"steps": [{"id": "a", "do": "x.", "why": "y.", "when": {"board": ["wet"]}}]}, "$.steps[0].when"),
        ({"steps": [{"id": "a", "do": "x.", "why": "y."}] * 2}, "$.steps[1].id"),
        ({"steps": [{"id": "a", "do": "x.", "why": "y.", "minutes": -1}]}, "$.steps[0].minutes"),
        (
            {"steps": [{"id": "a", "do": "x.", "why": "y.", "record": [{"kind": "mood", "words": "z"}]}]},
            "$.steps[0].record[0].kind",
        ),
        (
            {
                "steps": [
                    {"id": "a", "do": "x.", "why": "y.", "timer": {"words": "t", "least_s": 9, "most_s": 3}}
                ]
            },
            "$.steps[0].timer.most_s",
        ),
    ],
)
def test_a_procedure_that_cannot_be_right_is_refused_with_its_place(shop, change, place):
    whole = {"name": "own", "title": "t", "purpose": "p", "steps": [{"id": "a", "do": "x.", "why": "y."}]}
    save_procedure(shop, ADA, whole)
    with pytest.raises(ServiceFileError) as refused:
        save_procedure(shop, Stamp("Ada", START), whole | change)
    assert place in str(refused.value)
    assert len(shop.every(type(save_procedure(shop, ADA, whole)))) == 1


def test_the_instruments_own_facts_need_not_be_asked():
    found = facts_of(example_service().instrument, {"board": "lacquered"})
    assert found["bridge"] == "individual"
    assert found["electrics"] == "yes"
    assert found["board"] == "lacquered"
    with pytest.raises(CorrectInputError, match="bare, lacquered"):
        facts_of(example_service().instrument, {"board": "wet"})
