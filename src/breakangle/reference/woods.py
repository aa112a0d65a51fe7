"""How much woods move across the grain with their moisture."""

from dataclasses import dataclass
from functools import cache

from breakangle.reference.rows import look_up, read_table


@dataclass(frozen=True)
class Wood:
    """A wood: relative movement per percent of moisture, on a quarter-sawn and on a flat-sawn face."""

    key: str
    words: str
    radial_per_percent: float
    tangential_per_percent: float
    source: str
    usual_board: bool = False


@cache
def _woods() -> dict[str, Wood]:
    return {key: Wood(key=key, **row) for key, row in read_table("woods").items()}


def woods() -> tuple[str, ...]:
    """Keys of the known woods."""
    return tuple(_woods())


def wood(key: str) -> Wood:
    """A wood by its key.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    return look_up("wood", key, _woods())


def usual_boards() -> tuple[Wood, ...]:
    """Woods that boards are usually of."""
    return tuple(row for row in _woods().values() if row.usual_board)
