"""A number with a unit carries it in its name: in the file's keys, and in the arguments of physics."""

import ast
from pathlib import Path

import pytest
from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from breakangle.model import body, instrument, plan, reading, service
from breakangle.model.words import noun
from breakangle.model.words.noun import Between
from breakangle.planning.kinds.registry import file_kinds

SOURCE = Path(__file__).parents[2] / "src" / "breakangle"
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


UNITS = (
    *(
        "mm",
        "mm2",
        "mm3",
        "mm4",
        "m",
        "n",
        "n_per_mm",
        "n_mm2",
        "mpa",
        "g_per_m",
        "kg_per_m3",
        "kg",
        "kg_per_s",
        "s_per_kg",
        "hz",
        "s",
        "ms",
    ),
    *("cents", "c", "percent", "turns", "degrees", "db", "cents_per_mm", "mm_per_n", "mm_per_turn", "per_k"),
    *("ratio", "count", "exponent"),
)
# Whole words that say what they are: places and numbers of things, and a share between two ways.
PLAIN = {"fret", "frets", "string", "strings", "left", "right", "harmonic", "partial", "mode", "clamped_ends"}


def public_arguments(path: Path) -> list[tuple[str, str]]:
    found = []
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
            for one in arguments:
                kind = ast.unparse(one.annotation) if one.annotation else ""
                if kind in ("float", "Array", "Values", "ArrayLike", "npt.ArrayLike", "Floats"):
                    found.append((node.name, one.arg))
    return found


@pytest.mark.parametrize(
    "path", sorted((SOURCE / "physics").glob("*.py")), ids=lambda path: path.stem
)  # fmt: skip
def test_arguments_of_physics_carry_their_unit(path):
    bare = [
        f"{function}({name})"
        for function, name in public_arguments(path)
        if name not in PLAIN and not any(name == unit or name.endswith(f"_{unit}") for unit in UNITS)
    ]
    assert bare == []
