"""A number with a unit carries it in its name, in the file's keys; of physics, `test_conventions.py` holds it."""

import pytest
from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from breakangle.model import body, instrument, plan, reading, service
from breakangle.model.words import noun
from breakangle.model.words.noun import Between
from breakangle.planning.kinds.registry import file_kinds

ENDING = {
    "mm": "mm",
    "mm per turn": "mm_per_turn",
    "cents": "cents",
    "Hz": "hz",
    "°C": "_c",
    "%": "percent",
    "g/m": "g_per_m",
    "N": "_n",
    "N·mm²": "_n_mm2",
    "turns": "turns",
    "kg": "_kg",
    "degrees": "degrees",
}
# The contract's own keys: a board's radius at two places, under a key that carries the unit.
BY_CONTRACT = {"at_nut", "at_last_fret", "turns_left", "height_travel_mm", "position_travel_mm"}


def models() -> list[type[BaseModel]]:
    kinds = file_kinds()
    found: list[type[BaseModel]] = [*kinds.readings, *kinds.adjustments, *kinds.targets]
    for module in (body, instrument, noun, plan, reading, service):
        found += [
            one for one in vars(module).values() if isinstance(one, type) and issubclass(one, BaseModel)
        ]  # fmt: skip
    return list(dict.fromkeys(found))


def units_of(annotation: object) -> set[str]:
    """Return the units of every Between inside a type."""
    found = {annotation.unit} if isinstance(annotation, Between) else set()
    inner = [*getattr(annotation, "__metadata__", ()), *getattr(annotation, "__args__", ())]
    return found.union(*(units_of(one) for one in inner)) if inner else found


@pytest.mark.parametrize("model", models(), ids=lambda model: model.__name__)
def test_a_key_with_a_unit_ends_in_it(model):
    for name, field in model.model_fields.items():
        units = units_of(field.annotation).union(*(units_of(one) for one in field.metadata)) - {""}
        for unit in units:
            assert unit in ENDING, f"{model.__name__}.{name}: no ending known for {unit}"
            assert name.endswith(ENDING[unit]) or name in BY_CONTRACT, f"{model.__name__}.{name} is in {unit}"


def test_every_number_of_a_file_has_a_range():
    """A float or int without Between would let NaN, infinity and `true` through."""
    for model in models():
        for name, field in model.model_fields.items():
            if model.__module__ != "breakangle.model.plan" and field.annotation in (int, float):
                assert any(isinstance(one, Between) for one in field.metadata), f"{model.__name__}.{name}"
                assert field.default is PydanticUndefined or isinstance(field.default, int | float)
