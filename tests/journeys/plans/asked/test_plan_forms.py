"""A plan as programs read it: plan/2 with trips, findings and questions, plan/1 as it was, both by their schemas."""

import json
from typing import Any

import jsonschema
import numpy as np
import pytest

from bench._instruments import arrival
from bench._maker import Bench
from breakangle.cli.main import main
from breakangle.model.plan_form import FORMS, asked_of
from breakangle.model.service import Service
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.trips.told import first_to_read, held_back
from breakangle.reference.families import families
from breakangle.reference.messages import words
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.plan_json import plan_object, plan_text
from breakangle.services.service_files.service import plan_schema_text
from plan_asking import ACTION, RELIEF, asking
from planning_cases import good, made_of, only, ordinary, service_reading

OLD_KEYS = {"format", "verdict", "steps", "now", "then", "targets", "notes", "read_again", "read_next"}
OLD_STEP_KEYS = {"adjust", "string", "post", "mm", "turns", "reason", "caution", "screw", "expect"}
SCHEMAS = {form: jsonschema.Draft202012Validator(json.loads(plan_schema_text(form))) for form in FORMS}


def arrived(kind: str, seed: int) -> Service:
    bench = Bench(arrival(kind, seed), np.random.default_rng(seed))
    bench.do(Tune())
    return Service(instrument=bench.one.instrument, readings=tuple(bench.full_set()))


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("kind", families())
def test_a_real_plan_of_every_family_is_valid_by_the_published_schema(kind, form):
    service = (
        service_reading(ordinary(kind), only("action", 2.0)) if kind == "banjo-five" else arrived(kind, 1)
    )
    made = plan_object(made_of(service), form)
    assert made["format"] == f"breakangle/{form}"
    SCHEMAS[form].validate(made)


@pytest.mark.parametrize("form", FORMS)
def test_the_schema_refuses_what_the_form_does_not_hold(form):
    made = plan_object(made_of(arrived("electric-guitar", 2)), form)
    assert made["steps"]

    def refused(change: dict[str, Any]) -> bool:
        return not SCHEMAS[form].is_valid(made | change)

    assert refused({"odd": 1})
    assert refused({"verdict": "maybe"})
    assert refused({"steps": [made["steps"][0] | {"reason": None}]})
    assert refused({"format": "breakangle/plan/3"})
    assert refused({"verdict": "read-first"}) == (form == "plan/1")


def test_the_newer_form_lists_trips_and_each_step_names_its_own():
    made = plan_object(made_of(arrived("steel-acoustic-guitar", 2)))
    assert [one["trip"] for one in made["trips"]] == list(range(1, len(made["trips"]) + 1))
    assert {one["trip"] for one in made["steps"]} == {one["trip"] for one in made["trips"]}
    assert made["findings"] == []
    asked = {(one["quantity"], one["string"], one["fret"]) for one in made["read_again"]}
    first = [one["readings"][0] for one in made["questions"]]
    assert asked <= {(one["quantity"], one["string"], one["fret"]) for one in first}
    assert {one["ask"] for one in made["questions"]} == {"reading"}


def test_the_older_form_has_no_new_keys_and_says_the_same():
    plan = made_of(arrived("steel-acoustic-guitar", 2))
    new, old = plan_object(plan), plan_object(plan, "plan/1")
    assert set(old) <= OLD_KEYS
    assert all(set(step) <= OLD_STEP_KEYS for step in old["steps"])
    assert [
        {key: one for key, one in step.items() if key not in ("trip", "dangers")} for step in new["steps"]
    ] == old["steps"]
    assert {key: old[key] for key in OLD_KEYS & set(old) - {"format", "steps"}} == {
        key: new[key] for key in OLD_KEYS & set(new) - {"format", "steps"}
    }


def test_a_plan_that_waits_for_readings_is_told_in_both_forms():
    plan = asking(made_of(good()))
    new, old = plan_object(plan), plan_object(plan, "plan/1")
    SCHEMAS["plan/2"].validate(new)
    SCHEMAS["plan/1"].validate(old)
    assert new["verdict"] == "read-first"
    first = new["questions"][0]
    assert first["message"]["words"] == words(plan.questions[0].message)
    assert first["message"]["key"] == "plan.read_first"
    assert first["decides"] == ["nut-slot_6", "nut-slot_5", "verdict"]
    assert first["minutes"] == 0.25
    assert new["findings"][0]["size"] == {"value": 0.2, "low": 0.1, "high": 0.3, "unit": "mm"}
    assert new["findings"][0]["rests_on"][0]["held"] == [1, 14]
    assert old["verdict"] == "adjust"
    assert old["steps"] == []
    assert any(note.startswith("Read first") for note in old["notes"])


def test_what_forms_without_questions_ask_for_is_drawn_from_the_questions():
    again, following = asked_of(asking(made_of(good())).questions)
    assert following == ACTION
    assert again == (RELIEF,)
    assert asked_of(()) == ((), None)


def test_what_waits_is_named_with_the_reading_that_opens_it():
    plan = asking(made_of(good()))
    assert (
        first_to_read(plan)
        == "Read first: action, string 6, fret 12 with fret 1 held; it decides what comes next."
    )
    assert held_back(plan) == (
        "Not done before that is read: nut slot, strings 5 and 6; saddle height, bass end."
    )
    assert held_back(made_of(good())) == ""


def ran(capsys, *words: str) -> str:
    assert main(list(words)) in (0, 1)
    return capsys.readouterr().out


@pytest.fixture
def example(tmp_path):
    file = tmp_path / "service.json"
    file.write_text(example_text(), encoding="utf-8")
    return str(file)


def test_the_command_prints_the_form_asked_for(capsys, example):
    for asked in (["--json"], ["--json", "plan/2"], ["--json=plan/2"]):
        assert json.loads(ran(capsys, "plan", example, *asked))["format"] == "breakangle/plan/2"
    assert json.loads(ran(capsys, "plan", "--json", example))["format"] == "breakangle/plan/2"
    old = json.loads(ran(capsys, "plan", example, "--json", "plan/1"))
    assert old["format"] == "breakangle/plan/1"
    assert set(old) <= OLD_KEYS


def test_a_form_that_there_is_not_is_refused_in_a_sentence(capsys, example):
    assert main(["plan", example, "--json", "plan/3"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "plan/3" in err
    assert "plan/1" in err


@pytest.mark.parametrize(("of", "title"), [("plan", "breakangle/plan/2"), ("plan/1", "breakangle/plan/1")])
def test_the_command_prints_the_schema_of_a_plan(capsys, of, title):
    schema = json.loads(ran(capsys, "schema", of))
    assert schema["title"] == title
    jsonschema.Draft202012Validator.check_schema(schema)


def test_the_text_is_json_of_the_same_object():
    plan = made_of(arrived("bass-four", 1))
    assert json.loads(plan_text(plan)) == plan_object(plan)
