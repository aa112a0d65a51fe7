"""Procedure files that cannot be right: each is refused in one sentence with its place, and none gets further."""

import pytest

from breakangle.model.errors import BreakangleError, ChooseAnotherFileError
from breakangle.model.service_file import ServiceFileError
from breakangle.procedures.shelf import procedure_from, procedure_from_text

HEAD = 'name = "own"\ntitle = "t"\npurpose = "p"\n'
STEP = HEAD + '[[steps]]\nid = "a"\ndo = "x."\nwhy = "y."\n'


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            STEP + "minutes = inf\n",
            "$.steps[0].minutes is Infinity; it must be a number from 0 to 600 minutes.",
        ),
        (STEP + "minutes = nan\n", "$.steps[0].minutes is NaN"),
        (STEP + "minutes = true\n", "$.steps[0].minutes is true"),
        (STEP + 'when = "board"\n', '$.steps[0].when is "board"; it must be an object.'),
        (STEP + 'when = { board = "bare" }\n', "$.steps[0].when.board"),
        (STEP + "when = { board = [] }\n", "a list out of bare, lacquered"),
        (STEP + 'timer = { words = "t", least_s = 0, most_s = 3 }\n', "from 1 to 86400 seconds"),
        (HEAD + "steps = 1979-05-27\n", "$.steps"),
        (HEAD, "$.steps is missing"),
        ('{"name": 1e999}', "$.name is Infinity"),
        ('{"name": "own", "title": "t", "purpose": "p", "steps": []}', "at least 1"),
    ],
)
def test_values_that_cannot_be(text, told):
    with pytest.raises(ServiceFileError) as refused:
        procedure_from_text(text, "own.toml")
    assert told in str(refused.value)
    assert str(refused.value).startswith("own.toml: ")


@pytest.mark.parametrize(
    "text",
    ["{" * 10, '{"a":' * 5000, HEAD + "x = " + "[" * 3000 + "]" * 3000, "\x00", "[[[", '"' * 9, "{", "steps"],
)
def test_text_that_is_neither_toml_nor_json(text):
    with pytest.raises(ChooseAnotherFileError):
        procedure_from_text(text, "own.toml")


@pytest.mark.parametrize("data", [[], None, 3, "x", {"name": float("nan")}, {"steps": [{}]}])
def test_data_of_another_shape(data):
    with pytest.raises(BreakangleError):
        procedure_from(data, "the procedure")


def test_what_it_does_not_know_is_kept():
    found = procedure_from_text(STEP + 'pedal = "left"\n', "own.toml")
    assert found.steps[0].model_extra == {"pedal": "left"}
    assert '"pedal":"left"' in found.model_dump_json(exclude_unset=True)
