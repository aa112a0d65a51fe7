"""The body as a string at the bridge feels it: its resonances, where somebody has tapped or measured them."""

from typing import Annotated, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.pitch import NOTE_PATTERN
from breakangle.model.words.noun import Between, Noun, StringNumber, UncertaintyCents
from breakangle.model.words.speech import tr


class Resonance(Noun):
    """One note of the body: its frequency, the mass that moves with it at the bridge, and how sharp it is (Q)."""

    hz: Annotated[float, Between(30.0, 2000.0, "Hz")]
    mass_kg: Annotated[float, Between(0.005, 20.0, "kg")]
    quality_ratio: Annotated[float, Between(2.0, 500.0, "")]


class HeardPull(Noun):
    """How far the body pulled the open `note` of `string`, as its harmonic told at earlier visits."""

    string: StringNumber
    note: Annotated[str, Field(pattern=NOTE_PATTERN)]
    cents: Annotated[float, Between(-100.0, 100.0, "cents")]
    uncertainty_cents: UncertaintyCents


# What is read together of a top: its lean, and its dome.
TOP_PARTS = (("front_mm", "behind_mm", "span_mm"), ("rise_mm", "width_mm"))


class TopRead(Noun):
    """How a thin top lay when it was read: lower in front of the bridge, higher behind it, and its rise across.

    Its lean is read by `front_mm`, `behind_mm` and `span_mm`, its dome by `rise_mm` and `width_mm`; either may be left
    out, but not a part of one.
    """

    front_mm: Annotated[float, Between(0.0, 15.0, "mm")] | None = None
    behind_mm: Annotated[float, Between(0.0, 15.0, "mm")] | None = None
    span_mm: Annotated[float, Between(20.0, 300.0, "mm")] | None = None
    rise_mm: Annotated[float, Between(-10.0, 20.0, "mm")] | None = None
    width_mm: Annotated[float, Between(50.0, 600.0, "mm")] | None = None

    @model_validator(mode="after")
    def _whole(self) -> Self:
        for parts in TOP_PARTS:
            given = [name for name in parts if getattr(self, name) is not None]
            lacking = [name for name in parts if name not in given]
            if given and lacking:
                allowed = tr("given where {given} is", given=given[0])
                raise PydanticCustomError(
                    "at", tr("must be {allowed}"), {"allowed": allowed, "key": lacking[0]}
                )
        return self


class Body(Noun):
    """What is known of the body; without it, how it pulls single notes is not reckoned."""

    resonances: Annotated[tuple[Resonance, ...], Field(max_length=12)] = ()
    open_pulls: Annotated[tuple[HeardPull, ...], Field(max_length=18)] = ()
