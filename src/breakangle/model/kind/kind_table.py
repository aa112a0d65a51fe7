"""What is usual of a kind of instrument, as a service file carries it where no table of the program has that kind."""

from collections.abc import Iterator
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.kind.string import LEAST_FRETS, LEAST_JOINT_FRET, SCALE_MM, String
from breakangle.model.words.noun import Between, FretNumber, Noun
from breakangle.model.words.speech import tr

# Bounds of what can be meant, chosen as those of an instrument are.
STRING_COLUMNS = {"string", "note", "make", "diameter_mm", "core_mm", "wrap", "course", "nut_at_fret"}
Words = Annotated[str, Field(min_length=1, max_length=80)]
Source = Annotated[str, Field(min_length=1, max_length=1000)]
HeightMm = Annotated[float, Between(0.0, 10.0, "mm")]
ReliefMm = Annotated[float, Between(-0.5, 3.0, "mm")]
ToleranceMm = Annotated[float, Between(0.005, 2.0, "mm")]
PluckMm = Annotated[float, Between(0.02, 10.0, "mm")]
AnyNumber = Annotated[float, Between(-100.0, 100.0, "")]
# The program's own tables have none under 0.0004: what is known with no spread at all could never be learned anew.
Spread = Annotated[float, Between(0.0001, 100.0, "")]
TurnMm = Annotated[float, Between(0.05, 3.0, "mm per turn")]


class UsualFigure(Noun):
    """What a quantity usually is, and one standard deviation around it, in the unit of its name."""

    mean: AnyNumber
    sd: Spread


class UsualTurn(Noun):
    """What a whole turn of a truss rod adds to the relief, and one standard deviation around it, mm."""

    mean: Annotated[float, Between(-5.0, -0.01, "mm per turn")]
    sd: Annotated[float, Between(0.001, 5.0, "mm per turn")]


class KindShape(Noun):
    """Sizes and build of the kind's usual instrument; a board without a radius is flat."""

    scale_mm: Annotated[float, SCALE_MM]
    frets: Annotated[int, Between(LEAST_FRETS, 36, "", whole=True)]
    joint_fret: Annotated[int, Between(LEAST_JOINT_FRET, 36, "", whole=True)]
    relief_fret: FretNumber
    board_radius_mm: Annotated[float, Between(50.0, 5000.0, "mm")] | None = None
    spread_nut_mm: Annotated[float, Between(0.0, 150.0, "mm")]
    spread_bridge_mm: Annotated[float, Between(0.0, 150.0, "mm")]
    nut: Literal["nut", "zero-fret"] = "nut"
    anchor: Literal["ball", "pins", "tied"]
    head: Literal["plain", "slotted"]
    post: Annotated[str, Field(min_length=1, max_length=60)]
    electrics: bool
    source: Source

    @model_validator(mode="after")
    def _frets_in_order(self) -> Self:
        places = list(self._contradictions())
        if places:
            raise PydanticCustomError(
                "at", tr("must be {allowed}"), {"allowed": places[0][1], "places": places}
            )
        return self

    def _contradictions(self) -> Iterator[tuple[str, str]]:
        if self.joint_fret > self.frets:
            yield "joint_fret", tr("a whole number up to {most}, the last fret", most=self.frets)
        if not 2 <= self.relief_fret < self.joint_fret:
            yield (
                "relief_fret",
                tr("a whole number from 2 to {most}, below the joint", most=self.joint_fret - 1),
            )


class KindBridge(Noun):
    """The kind's bridge, its screws and how it stands."""

    kind: Literal["individual", "two-post", "one-piece", "floating"]
    height_mm_per_turn: TurnMm | None = None
    position_mm_per_turn: TurnMm | None = None
    position_travel_mm: (
        tuple[Annotated[float, Between(-30.0, 0.0, "mm")], Annotated[float, Between(0.0, 30.0, "mm")]] | None
    ) = None
    stands_loose: bool = False
    on_head: bool = False
    on_top: bool = False
    source: Source


class KindRod(Noun):
    """The kind's truss rod: relief per whole turn, negative because tightening lessens relief."""

    kind: Literal["single", "dual"]
    relief_mm_per_turn: UsualTurn
    source: Source


class KindStringing(Noun):
    """The strings of an ordinary set."""

    rows: Annotated[tuple[String, ...], Field(min_length=1, max_length=18)]
    source: Source

    @model_validator(mode="after")
    def _numbered(self) -> Self:
        if sorted(one.string for one in self.rows) != list(range(1, len(self.rows) + 1)):
            allowed = tr("the strings numbered 1 to {count}, each once, 1 the highest", count=len(self.rows))
            raise PydanticCustomError("at", tr("must be {allowed}"), {"allowed": allowed, "key": "rows"})
        return self


class KindPriors(Noun):
    """What an instrument of the kind is like when it comes in; low is the bass side, high is string 1."""

    relief_mm: UsualFigure
    action_low_mm: UsualFigure
    action_high_mm: UsualFigure
    nut_low_mm: UsualFigure
    nut_high_mm: UsualFigure
    relief_mm_per_n: UsualFigure
    saddle_setback_sd_mm: Annotated[float, Between(0.01, 30.0, "mm")]
    source: Source


class KindTargets(Noun):
    """House targets for one hand."""

    relief_mm: ReliefMm
    action_low_mm: HeightMm
    action_high_mm: HeightMm
    nut_low_mm: HeightMm
    nut_high_mm: HeightMm
    intonation_cents: Annotated[float, Between(-50.0, 50.0, "cents")]
    source: Source


class KindHands(Noun):
    """House targets for a light, medium and heavy hand."""

    light: KindTargets
    medium: KindTargets
    heavy: KindTargets


class KindTolerances(Noun):
    """How far from a target still counts as on it."""

    relief_mm: ToleranceMm
    action_mm: ToleranceMm
    nut_mm: ToleranceMm
    intonation_cents: Annotated[float, Between(0.1, 50.0, "cents")]
    source: Source


class KindStrengths(Noun):
    """Height of the string at the pluck for each strength of play, and where and which way it is plucked."""

    light_mm: PluckMm
    medium_mm: PluckMm
    heavy_mm: PluckMm
    pluck_from_saddle_mm: Annotated[float, Between(10.0, 500.0, "mm")]
    release: Literal["away", "toward"]
    way: Annotated[str, Field(max_length=60)] = ""
    source: Source

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if not self.light_mm <= self.medium_mm <= self.heavy_mm:
            allowed = tr("a number from {least:g} to {most:g} mm", least=self.light_mm, most=self.heavy_mm)
            raise PydanticCustomError("at", tr("must be {allowed}"), {"allowed": allowed, "key": "medium_mm"})
        return self


class KindTable(Noun):
    """A kind of instrument that a shop made: what the program's own tables have of theirs.

    ``copied_from``: the kind of the program's tables that it was made from.
    """

    words: Words
    copied_from: Annotated[str, Field(min_length=1, max_length=60)]
    shape: KindShape
    bridge: KindBridge
    rod: KindRod | None = None
    stringing: KindStringing
    priors: KindPriors
    targets: KindHands
    tolerances: KindTolerances
    strengths: KindStrengths

    def plain(self) -> dict[str, Any]:
        """Return it as a data file of the tables has it: what is not there, or not known here, is left out."""
        found: dict[str, Any] = _declared(self)
        for row in found["stringing"]["rows"]:
            for name in set(row) - STRING_COLUMNS:
                del row[name]
        return found


def _declared(value: Any) -> Any:
    if isinstance(value, Noun):
        told = {name: getattr(value, name) for name in type(value).model_fields}
        return {name: _declared(one) for name, one in told.items() if one is not None}
    return [_declared(one) for one in value] if isinstance(value, tuple) else value
