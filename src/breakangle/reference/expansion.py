"""How strings and necks grow along their length with temperature and moisture."""

from dataclasses import dataclass

from breakangle.model.words.speech import tr
from breakangle.reference.families import Prior
from breakangle.reference.rows import look_up, read_table


@dataclass(frozen=True)
class Expansion:
    """Relative growth along the length: per kelvin, and per percent of moisture content."""

    key: str
    words: str
    per_k: Prior
    per_moisture_percent: Prior
    source: str


def expansion(key: str) -> Expansion:
    """A material's growth by its key.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    row = dict(look_up(tr("expansion of a material"), key, read_table("expansion")))
    return Expansion(
        key=key,
        words=row["words"],
        per_k=Prior(**row["per_k"]),
        per_moisture_percent=Prior(**row["per_moisture_percent"]),
        source=row["source"],
    )
