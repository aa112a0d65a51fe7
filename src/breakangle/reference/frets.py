"""How far crowns stand out of line by the age and the work of the frets."""

from dataclasses import dataclass
from functools import cache

from breakangle.model.words.speech import tr
from breakangle.reference.rows import look_up, read_table


@dataclass(frozen=True)
class CrownScatter:
    """Crowns of one condition: spreads in mm of an even and of a rough board, and what share of boards is rough."""

    words: str
    even_mm: float
    rough_mm: float
    rough_share: float
    source: str

    def variance_mm2(self, rough_share: float) -> float:
        """Return the variance of a crown where the board is rough with that probability."""
        return rough_share * self.rough_mm**2 + (1.0 - rough_share) * self.even_mm**2


@cache
def crown_scatter(condition: str) -> CrownScatter:
    """Return how crowns of this condition scatter.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    table = read_table("frets")
    return CrownScatter(**look_up(tr("condition of frets"), condition, table))
