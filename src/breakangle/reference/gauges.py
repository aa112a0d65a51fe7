"""Sizes that strings are commonly sold in."""

from functools import cache

from breakangle.model.words.speech import tr
from breakangle.reference.rows import look_up, read_table


@cache
def usual_diameters_mm(make: str) -> tuple[float, ...]:
    """Outside diameters in mm that strings of a make are commonly sold in, thinnest first.

    Raises:
        CorrectInputError: no such make; the error names the known ones.
    """
    row = look_up(tr("string make"), make, read_table("materials/makes"))["sold"]
    return tuple(round(size * row["unit_mm"], 4) for size in row["sizes"])
