"""How strongly one player, or one shop, plays: light, medium and heavy in millimetres, with who and when."""

from collections.abc import Iterator
from datetime import date
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.words.noun import Between, Noun
from breakangle.model.words.speech import tr

HeightMm = Annotated[float, Between(0.02, 10.0, "mm")]


class PlayedStrengths(Noun):
    """Heights of the string over rest at the pluck, toward the board, in mm, as somebody played and listening heard.

    `spread_ratio` is how unsure each is, as the standard deviation of its logarithm; `who` played, `day` is when
    (2027-03-01), and `source` how it was found.
    """

    light_mm: HeightMm
    medium_mm: HeightMm
    heavy_mm: HeightMm
    spread_ratio: Annotated[float, Between(0.0, 3.0, "")] = 0.0
    pluck_from_saddle_mm: Annotated[float, Between(10.0, 500.0, "mm")]
    release: Literal["away", "toward"] = "away"
    who: Annotated[str, Field(min_length=1, max_length=200)]
    day: Annotated[str, Field(min_length=1, max_length=10)]
    source: Annotated[str, Field(min_length=1, max_length=400)] | None = None

    @model_validator(mode="after")
    def _rises(self) -> Self:
        for key, allowed in self._contradictions():
            raise PydanticCustomError("at", tr("must be {allowed}"), {"allowed": allowed, "key": key})
        return self

    def _contradictions(self) -> Iterator[tuple[str, str]]:
        """Yield (key, what is allowed) for strengths out of order and a day that is none."""
        try:
            date.fromisoformat(self.day)
        except ValueError:
            yield "day", tr("a day, such as 2027-03-01")
        if self.medium_mm < self.light_mm:
            yield (
                "medium_mm",
                tr("a number from {light_mm:g} mm, the height of light", light_mm=self.light_mm),
            )
        if self.heavy_mm < self.medium_mm:
            yield (
                "heavy_mm",
                tr("a number from {medium_mm:g} mm, the height of medium", medium_mm=self.medium_mm),
            )
