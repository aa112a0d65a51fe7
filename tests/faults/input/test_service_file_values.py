"""Every value of a service file, wrong in every way: one clear sentence, exit code 2, nothing written."""

import json
from collections.abc import Iterator
from typing import Any

import jsonschema
import pytest
from pydantic import BaseModel

from breakangle.cli.main import main
from breakangle.model.instrument import Instrument
from breakangle.planning.kinds.registry import file_kinds
from breakangle.services.service_files.service import schema_text
from service_files import changed, full_service, places, text_with, without

FULL = full_service()
PLACES = [(path, way, value) for path, way, value in places(FULL) if way]
SCHEMA = jsonschema.Draft202012Validator(json.loads(schema_text()))
OPEN_TEXTS = (
    "name",
    "kind",
    "make",
    "wrap",
)  # any text by the schema; the last three are looked up in tables

NEVER_A_NUMBER = ["NaN", "-Infinity", "Infinity", "1e999", "-1e999", "1" + "0" * 5000, '"1.5"', '"1.5mm"']
NEVER_A_NUMBER += ['""', "true", "false", "[]", "[1.0]", "{}", '"\\u0000"']
SOMETIMES_A_NUMBER = ["-1", "-0.001", "1e300", "-1e300", "1" + "0" * 300, "0", "0.5", "31", "7", "null"]
NEVER_A_TEXT = ["1", "1.5", "NaN", "true", "[]", "{}", '""', '"\\ud800"', '["E4"]']
SOMETIMES_A_TEXT = ["null", '"nonsense"', json.dumps("x" * 1000), '"H4"', '"E44"', '"e4 "']
NEVER_A_LIST = ["1", "true", '"text"', "{}", "NaN"]
SOMETIMES_A_LIST = ["null", "[]", "[null]", "[1, 2, 3, 4, 5]", '["text"]']
NEVER_AN_OBJECT = ["1", "true", '"text"', "[]", "NaN", "Infinity"]


def wrong_texts(path: str, way: tuple[Any, ...], value: Any) -> Iterator[str]:
    """Yield JSON texts that cannot be right at this place; the published schema tells in doubtful cases."""
    if isinstance(value, dict):
        never, sometimes = NEVER_AN_OBJECT, ["null", "{}"]
    elif isinstance(value, list):
        never, sometimes = NEVER_A_LIST, SOMETIMES_A_LIST
    elif isinstance(value, str):
        never, sometimes = NEVER_A_TEXT, SOMETIMES_A_TEXT
    else:
        never, sometimes = NEVER_A_NUMBER, SOMETIMES_A_NUMBER
    if path == "$.instrument.board_radius_mm":  # a number, an object or null
        never = ["true", '"text"', "[]", "NaN", "Infinity"]
        sometimes = ["-1", "0", "1e300", "{}"]
    if path.startswith("$.complaints"):  # what nobody said may be an empty text
        never, sometimes = [raw for raw in never if raw != '""'], [*sometimes, '""']
    yield from never
    for raw in sometimes:
        if not SCHEMA.is_valid(json.loads(text_with(FULL, way, raw))):
            yield raw


def complaint(capsys, tmp_path, text: str, verb: str = "plan") -> str:
    """Run the verb on a file of `text`; return the one sentence it must complain with."""
    file = tmp_path / "service.json"
    file.write_text(text, encoding="utf-8")
    code = main([verb, str(file)])
    out, err = capsys.readouterr()
    assert code == 2, f"exit code {code} for {text[:80]}"
    assert out == ""
    assert err.startswith("breakangle: ")
    assert err.count("\n") == 1
    assert err.endswith(".\n")
    assert "Traceback" not in err
    assert [one.name for one in tmp_path.iterdir()] == ["service.json"], "something was written"
    assert file.read_text(encoding="utf-8") == text
    return err


@pytest.mark.parametrize(("path", "way", "value"), PLACES, ids=[path for path, _, _ in PLACES])
def test_a_wrong_value_is_refused_with_its_path_and_what_is_allowed(path, way, value, capsys, tmp_path):
    tried = 0
    for raw in wrong_texts(path, way, value):
        err = complaint(capsys, tmp_path, text_with(FULL, way, raw))
        assert path in err, f"{raw} at {path}: {err}"
        if path != "$.format":
            assert "must be" in err, f"{raw} at {path}: {err}"
        if raw in ("1.5", '"1.5mm"', "true", "-1") and path + " is" in err:
            assert f"{path} is {raw}" in err
        tried += 1
    assert tried >= 4


# A list's entry taken out moves the others up: what then complains is the one that no longer fits.
AFTER_MISSING = {
    **{f"$.instrument.strings[{n}]": "$.instrument.strings is" for n in range(5)},
    "$.instrument.strings[5]": "$.readings[0].string is 6; it must be a string from 1 to 5",
    "$.instrument.bridge.height_travel_mm[0]": "$.instrument.bridge.height_travel_mm[0] is 2.0",
    "$.instrument.bridge.position_travel_mm[0]": "$.instrument.bridge.position_travel_mm[0] is 4.0",
    "$.readings[0].held[0]": "$.readings[0].held is [17]; it must be at least one fret below 8",
    "$.work": "$.readings[5].after is 1; it must be at most 0",
    "$.work[0].strings[0]": "$.work[0].strings is []; it must be a list of at least 1",
    "$.work[10].frets[0]": "$.work[10].frets is []; it must be a list of at least 1",
    **{f"$.work[10].frets[0].off_mm[{n}]": "it must be 6 figures, string 1 first" for n in range(6)},
    **{f"$.work[{n}]": "$.readings[13].after is 11; it must be at most 10" for n in range(11)},
}
NEEDED = [
    (path, way) for path, way, _ in PLACES if path in AFTER_MISSING or not SCHEMA.is_valid(without(FULL, way))
]
OPTIONAL = [(path, way) for path, way, _ in PLACES if (path, way) not in NEEDED]


@pytest.mark.parametrize(("path", "way"), NEEDED, ids=[path for path, _ in NEEDED])
def test_a_missing_key_is_named_where_it_is_needed(path, way, capsys, tmp_path):
    err = complaint(capsys, tmp_path, json.dumps(without(FULL, way)))
    assert AFTER_MISSING.get(path, f"{path} is missing") in err, err


@pytest.mark.parametrize(("path", "way"), OPTIONAL, ids=[path for path, _ in OPTIONAL])
def test_a_missing_key_is_no_fault_where_it_is_optional(path, way, capsys, tmp_path):
    if path.startswith("$.top."):
        assert "must be given where" in complaint(capsys, tmp_path, json.dumps(without(FULL, way)))
        return
    if path in ("$.readings[2].hz", "$.readings[3].cents", "$.readings[4].cents"):
        assert "it must be given, either it or cents" in complaint(
            capsys, tmp_path, json.dumps(without(FULL, way))
        )
        return
    if path in ("$.work[3].string", "$.work[4].post"):
        assert "it must be given, either it or post" in complaint(
            capsys, tmp_path, json.dumps(without(FULL, way))
        )
        return
    file = tmp_path / "service.json"
    file.write_text(json.dumps(without(FULL, way)))
    assert main(["check", str(file)]) == 0
    assert capsys.readouterr().err == ""


def test_the_walk_reaches_every_field_of_every_model():
    """A field added to a model must be added to the full file, or it would go untested."""
    kinds = file_kinds()
    models: set[type[BaseModel]] = set()
    reached: dict[type[BaseModel], set[str]] = {}
    from breakangle.model.service_file import parse_service

    def visit(noun: Any) -> None:
        if isinstance(noun, tuple):
            for one in noun:
                visit(one)
        elif isinstance(noun, BaseModel):
            found = reached.setdefault(type(noun), set())
            for name in type(noun).model_fields:
                value = getattr(noun, name)
                if value is not None and name in noun.model_fields_set:
                    found.add(name)
                visit(value)

    service = parse_service(json.dumps(FULL), kinds)
    visit(service)
    models.update(kinds.readings, kinds.adjustments, kinds.targets, reached)
    reached[Instrument].add(
        "kind_table"
    )  # a kind of the shop's own: tests/journeys/making/test_shop_kinds.py
    for model in models:
        assert set(model.model_fields) == reached.get(model, set()), model.__name__


# What no single type or range can tell: figures that do not fit this instrument or each other.
SHORT = [one | {"nut_at_fret": 5} for one in FULL["instrument"]["strings"]]  # no string begins at the nut
MISFITS = [
    (("readings", 0, "string"), 7, "$.readings[0].string is 7; it must be a string from 1 to 6"),
    (("readings", 0, "fret"), 30, "$.readings[0].fret is 30; it must be a fret from 0 to 22"),
    (("readings", 0, "held"), [1, 30], "$.readings[0].held is [1, 30]; it must be frets from 1 to 22"),
    (("readings", 0, "held"), [8], "$.readings[0].held is [8]"),
    (("readings", 0, "held"), [17, 1], "$.readings[0].held is [17, 1]; it must be different frets"),
    (("readings", 0, "held"), [1, 1], "$.readings[0].held is [1, 1]"),
    (("readings", 0, "held"), [9], "$.readings[0].held is [9]; it must be at least one fret below 8"),
    (("readings", 0, "held"), [10, 12], "$.readings[0].held is [10, 12]"),
    (("readings", 6, "after"), 12, "$.readings[6].after is 12; it must be at most 11"),
    (("work", 7, "also"), [7], "$.work[7].also is [7]; it must be strings from 1 to 6"),
    (("readings", 2, "cents"), 3.0, "$.readings[2].hz is 82.41; it must be given, either it or cents"),
    (("readings", 5, "string"), 18, "$.readings[5].string is 18"),
    (("targets", "wanted", 0, "string"), 7, "$.targets.wanted[0].string is 7"),
    (("targets", "wanted", 1, "fret"), 23, "$.targets.wanted[1].fret is 23"),
    (("targets", "wanted", 0, "held"), [23], "$.targets.wanted[0].held is [23]"),
    (("work", 3, "string"), 7, "$.work[3].string is 7; it must be a string from 1 to 6"),
    (("work", 3, "post"), "bass", "$.work[3].string is 6; it must be given, either it or post"),
    (("work", 5, "string"), 8, "$.work[5].string is 8"),
    (("work", 7, "string"), 9, "$.work[7].string is 9"),
    (("work", 10, "frets", 0, "fret"), 23, "$.work[10].frets[0].fret is 23; it must be a fret from 1 to 22"),
    (("work", 10, "frets", 0, "off_mm"), [0.02], "$.work[10].frets[0].off_mm is [0.02]; it must be 6 figures"),
    (("work", 0, "strings", 0, "string"), 9, "$.work[0].strings[0].string is 9"),
    (("work", 0, "strings", 0, "make"), "tinsel", "$.work[0].strings[0].make is \"tinsel\"; it must"),
    (("instrument", "kind"), "zither", "$.instrument.kind is \"zither\"; it must be one of"),
    (("instrument", "joint_fret"), 23, "$.instrument.joint_fret is 23; it must be a whole number from 4"),
    (("instrument", "strings", 1, "string"), 1, "$.instrument.strings is"),
    (("instrument", "strings", 1, "string"), 12, "$.instrument.strings is"),
    (("instrument", "strings", 1, "wrap"), "tinsel", "$.instrument.strings[1].wrap is \"tinsel\""),
    (("instrument", "strings", 3, "core_mm"), 0.7, "$.instrument.strings[3].core_mm is 0.7; it must be"),
    (("instrument", "strings", 2, "nut_at_fret"), 22, "$.instrument.strings[2].nut_at_fret is 22"),
    (("instrument", "strings", 2, "nut_at_fret"), 17, "[2].nut_at_fret is 17; it must be a fret below"),
    (("instrument", "strings"), SHORT, "it must be at least one string from the nut (nut_at_fret 0)"),
    (("instrument", "spread_nut_mm"), 60.0, ".spread_bridge_mm is 52.0; it must be a number from 60 mm"),
    (("instrument", "spread_bridge_mm"), 90.0, ".spread_bridge_mm is 90.0; it must be a number from 35 mm"),
    (("instrument", "board_radius_mm"), 51.0, "board_radius_mm is 51.0; it must be a number from 104 mm"),
    (("instrument", "board_radius_mm", "at_last_fret"), 253.0, ".at_last_fret is 253.0; it must be a"),
    (("instrument", "board_radius_mm", "at_nut"), 51.0, ".board_radius_mm.at_nut is 51.0; it must be"),
    (("readings", 2, "hz"), 60.0, "$.readings[2].hz is 60.0; it must be a number from 71.33 to 95.21 Hz"),
    (("readings", 2, "hz"), 6000.0, "$.readings[2].hz is 6000.0; it must be a number from 71.33 to 95.21 Hz"),
    (("instrument", "bridge", "height_travel_mm"), [4.0, -4.0], ".bridge.height_travel_mm[0] is 4.0; it"),
    (("instrument", "bridge", "height_travel_mm"), [-4.0], ".bridge.height_travel_mm[1] is missing; it"),
    (("format",), "breakangle/service/3", "$.format is \"breakangle/service/3\""),
    (("format",), "breakangle/plan/1", "$.format is \"breakangle/plan/1\""),
]  # fmt: skip


@pytest.mark.parametrize(("way", "value", "said"), MISFITS, ids=[said[:48] for _, _, said in MISFITS])
def test_what_does_not_fit_the_instrument_is_refused(way, value, said, capsys, tmp_path):
    assert said in complaint(capsys, tmp_path, json.dumps(changed(FULL, way, value)))


@pytest.mark.parametrize("verb", ["plan", "predict", "check"])
def test_every_verb_that_reads_a_file_refuses_alike(verb, capsys, tmp_path):
    err = complaint(capsys, tmp_path, json.dumps(changed(FULL, ("instrument", "scale_mm"), "long")), verb)
    assert '$.instrument.scale_mm is "long"; it must be a number from 200 to 1300 mm' in err


def test_check_lists_every_problem(capsys, tmp_path):
    spoiled = changed(changed(FULL, ("readings", 0, "string"), 7), ("work", 3, "string"), 9)
    spoiled = changed(spoiled, ("readings", 5, "fret"), 30)
    file = tmp_path / "service.json"
    file.write_text(json.dumps(spoiled))
    assert main(["check", str(file)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 3
    for path in ("$.readings[0].string", "$.readings[5].fret", "$.work[3].string"):
        assert sum(path in line for line in lines) == 1


def test_the_full_file_itself_is_valid(capsys, tmp_path):
    file = tmp_path / "service.json"
    file.write_text(json.dumps(FULL))
    assert main(["check", str(file)]) == 0
    assert capsys.readouterr().err == ""
    assert SCHEMA.is_valid(FULL)
