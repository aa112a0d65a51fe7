"""What an instrument is: board, rod, bridge, strings."""

from collections.abc import Iterator
from typing import Annotated, Any, Literal, Self

from pydantic import Discriminator, Field, Tag, model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.body import Body
from breakangle.model.kind.kind_table import KindTable
from breakangle.model.kind.string import LEAST_FRETS, LEAST_JOINT_FRET, DiameterMm, ScaleMm, String
from breakangle.model.playing import PlayedStrengths
from breakangle.model.words.noun import Between, Noun
from breakangle.model.words.speech import tr

__all__ = [
    "BoardRadius",
    "Bridge",
    "ConicalRadius",
    "DiameterMm",
    "FretCondition",
    "Instrument",
    "Nut",
    "Rod",
    "String",
]

WIDEST_SPLAY_MM = 50.0  # from nut to bridge; ordinary instruments: 10 to 25; common practice, no source
RadiusMm = Annotated[float, Between(50.0, 5000.0, "mm")]
SpreadMm = Annotated[float, Between(0.0, 150.0, "mm")]
TravelMm = tuple[Annotated[float, Between(-30.0, 0.0, "mm")], Annotated[float, Between(0.0, 30.0, "mm")]]
FretCondition = Literal["new", "dressed", "worn", "unknown"]
TurnMm = Annotated[float, Between(0.05, 3.0, "mm per turn")]


class Rod(Noun):
    """The truss rod, working one way or both (dual); `turns_left` is what it can still tighten, if known."""

    kind: Literal["single", "dual", "none"] = "single"
    turns_left: Annotated[float, Between(0.0, 20.0, "turns")] | None = None


class Bridge(Noun):
    """The bridge and what one turn of its screws does; travels are from where they stand now."""

    kind: Literal["individual", "two-post", "one-piece", "floating"]
    height_mm_per_turn: TurnMm | None = None
    position_mm_per_turn: TurnMm | None = None
    height_travel_mm: TravelMm | None = None
    position_travel_mm: TravelMm | None = None


class Nut(Noun):
    """A slotted nut, or a zero fret that carries the strings at fret height."""

    kind: Literal["nut", "zero-fret"] = "nut"


class ConicalRadius(Noun):
    """A board whose radius grows from nut to last fret."""

    at_nut: RadiusMm
    at_last_fret: RadiusMm

    @model_validator(mode="after")
    def _grows(self) -> Self:
        if self.at_last_fret < self.at_nut:
            allowed = tr("a number from {at_nut:g} mm, the radius at the nut", at_nut=self.at_nut)
            raise PydanticCustomError(
                "at", tr("must be {allowed}"), {"allowed": allowed, "key": "at_last_fret"}
            )
        return self


def _radius_form(value: Any) -> str:
    return "cone" if isinstance(value, dict | ConicalRadius) else "cylinder"


BoardRadius = Annotated[
    Annotated[RadiusMm, Tag("cylinder")] | Annotated[ConicalRadius, Tag("cone")], Discriminator(_radius_form)
]


class Instrument(Noun):
    """One instrument as the service file describes it; ``kind_table`` where a shop made its kind."""

    name: Annotated[str, Field(min_length=1, max_length=200)]
    kind: Annotated[str, Field(min_length=1, max_length=60)]
    scale_mm: ScaleMm
    frets: Annotated[int, Between(LEAST_FRETS, 36, "", whole=True)]
    joint_fret: Annotated[int, Between(LEAST_JOINT_FRET, 36, "", whole=True)]
    board_radius_mm: BoardRadius | None = None
    spread_nut_mm: SpreadMm
    spread_bridge_mm: SpreadMm
    fret_condition: FretCondition = "unknown"
    nut: Nut = Nut()
    rod: Rod = Rod()
    bridge: Bridge
    body: Body | None = None
    playing: PlayedStrengths | None = None
    kind_table: KindTable | None = None
    strings: Annotated[tuple[String, ...], Field(min_length=1, max_length=18)]

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        places = list(self._contradictions())
        if places:
            raise PydanticCustomError(
                "at", tr("must be {allowed}"), {"allowed": places[0][1], "places": places}
            )
        return self

    def _contradictions(self) -> Iterator[tuple[str, str]]:
        """Yield (key, what is allowed) for figures that no instrument can have together."""
        numbers = [string.string for string in self.strings]
        if sorted(numbers) != list(range(1, len(numbers) + 1)):
            yield (
                "strings",
                tr("the strings numbered 1 to {count}, each once, 1 the highest", count=len(numbers)),
            )
        if self.joint_fret > self.frets:
            allowed = tr(
                "a whole number from {least} to {most}, the last fret",
                least=LEAST_JOINT_FRET,
                most=self.frets,
            )
            yield "joint_fret", allowed
        narrow, wide = self.spread_nut_mm, self.spread_bridge_mm
        if not narrow <= wide <= narrow + WIDEST_SPLAY_MM:
            among = tr(
                "{narrow:g} mm, the spread at the nut, to {narrow_2:g} mm",
                narrow=narrow,
                narrow_2=narrow + WIDEST_SPLAY_MM,
            )
            yield "spread_bridge_mm", tr("a number from {among}", among=among)
        radius = self.board_radius_mm
        least = radius.at_nut if isinstance(radius, ConicalRadius) else radius
        if least is not None and least < 2.0 * wide:
            key = "board_radius_mm.at_nut" if isinstance(radius, ConicalRadius) else "board_radius_mm"
            yield (
                key,
                tr(
                    "a number from {wide:g} mm, twice the spread at the bridge, or null if flat",
                    wide=2.0 * wide,
                ),
            )
        yield from self._strings_begin_wrong()

    def _strings_begin_wrong(self) -> Iterator[tuple[str, str]]:
        for index, one in enumerate(self.strings):
            if one.nut_at_fret >= self.joint_fret:
                yield (
                    f"strings[{index}].nut_at_fret",
                    tr("a fret below the joint, {joint_fret}", joint_fret=self.joint_fret),
                )
        if all(one.nut_at_fret for one in self.strings):
            yield (
                "strings",
                tr("at least one string from the nut (nut_at_fret 0): frets are counted from there"),
            )

    def format_number(self) -> int:
        """Return the number of the first form of the service file that has all that is told here."""
        first = self.fret_condition == "unknown" and self.playing is None and self.kind_table is None
        return 1 if first else 2

    def in_order(self) -> tuple[String, ...]:
        """Return the strings from 1 up."""
        return tuple(sorted(self.strings, key=lambda one: one.string))

    def course_of(self, number: int) -> int | None:
        """Return the course that a string shares with others; None where it stands alone."""
        courses = {string.string: string.course or string.string for string in self.strings}
        course = courses.get(number)
        return course if list(courses.values()).count(course or 0) > 1 else None
