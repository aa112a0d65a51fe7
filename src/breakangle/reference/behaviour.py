"""How strings of a make take warmth, rub in a nut and lose their swing; and how strings leave a nut."""

from dataclasses import dataclass
from functools import cache

from breakangle.model.words.speech import tr
from breakangle.reference.families import Prior
from breakangle.reference.rows import look_up, read_table


@dataclass(frozen=True)
class Behaviour:
    """One make: its row of the expansion table, its friction in a slot, its losses (pure numbers)."""

    key: str
    expands_as: str
    nut_friction_ratio: Prior
    bending_loss_ratio: float
    other_loss_ratio: float
    source: str


@dataclass(frozen=True)
class NutAngle:
    """How a string breaks over the nut, and its length behind it over its sounding length."""

    break_angle_degrees: Prior
    head_ratio: Prior


@cache
def behaviour(key: str) -> Behaviour:
    """How strings of a make behave.

    Raises:
        CorrectInputError: no such make; the error names the known ones.
    """
    row = dict(look_up(tr("string make"), key, read_table("materials/makes"))["behaviour"])
    return Behaviour(key=key, **{**row, "nut_friction_ratio": Prior(**row["nut_friction_ratio"])})


@cache
def nut_angle() -> NutAngle:
    """How strings usually leave the nut."""
    table = read_table("nut_angle")
    angle, head = (
        Prior(table[name]["mean"], table[name]["sd"]) for name in ("break_angle_degrees", "head_ratio")
    )
    return NutAngle(angle, head)
