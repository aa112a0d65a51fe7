"""Restring: other strings on the same instrument; their pull bends the neck, their make moves the pitch."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from breakangle.model.instrument import DiameterMm, Instrument, String
from breakangle.model.reading import Adjustment
from breakangle.model.words.noun import Between, Noun, StringNumber
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.kind import AdjustmentKind, Effect
from breakangle.planning.kinds.move import Move
from breakangle.planning.kinds.restrung import put_on, restrung
from breakangle.planning.state.board import board_of
from breakangle.planning.state.picture import Picture
from breakangle.planning.state.uncertain_value import Known

SLOT_GAUGE_MM = (
    0.02  # a slot's width by feelers or the shank of a drill, one standard deviation; common practice
)


class NutSlotWidth(Noun):
    """The width of one string's nut slot, as it was measured before the new string went in."""

    string: StringNumber
    width_mm: DiameterMm
    uncertainty_mm: Annotated[float, Between(0.001, 0.5, "mm")] | None = None


class Restring(Adjustment):
    """Strings replaced by those listed; a string not listed stays, one that differs in its note alone is retuned.

    `slots`: widths of nut slots, where they were measured.
    """

    adjust: Literal["restring"] = "restring"
    strings: Annotated[tuple[String, ...], Field(min_length=1, max_length=18)]
    slots: Annotated[tuple[NutSlotWidth, ...], Field(max_length=18)] = ()

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have."""
        numbers = {one.string for one in instrument.strings}
        named = {
            "strings": [one.string for one in self.strings],
            "slots": [one.string for one in self.slots],
        }
        for name, found in named.items():
            for index, string in enumerate(found):
                if string not in numbers:
                    yield (
                        f"{name}[{index}].string",
                        tr("a string from 1 to {numbers_count}", numbers_count=len(numbers)),
                    )

    def changed_instrument(self, instrument: Instrument) -> Instrument:
        """Return the instrument with the new strings on it."""
        fresh = {one.string: one for one in self.strings}
        kept = tuple(fresh.get(one.string, one) for one in instrument.strings)
        return instrument.model_copy(update={"strings": kept})

    def format_number(self) -> int:
        """Return the number of the first form of the service file that has what is told here."""
        return 2 if self.slots else 1

    def widths_mm(self) -> dict[int, Known]:
        """Return the measured widths of nut slots in mm, by string."""
        return {one.string: Known(one.width_mm, one.uncertainty_mm or SLOT_GAUGE_MM) for one in self.slots}


def _effect(adjustment: Restring, picture: Picture) -> Effect:
    old = picture.board
    new = board_of(adjustment.changed_instrument(old.instrument), old.reference_hz)
    return restrung(picture, new, put_on(old.instrument, adjustment.strings), adjustment.widths_mm()).effect


def _move(adjustment: Restring, instrument: Instrument) -> Move:
    del instrument
    gauges = " ".join(f"{one.note} {one.diameter_mm:.2f} mm" for one in adjustment.strings)
    return Move(
        mark("Fit new strings: {gauges}"), mark("Fitted new strings: {gauges}"), values={"gauges": gauges}
    )


def _dangers(adjustment: Restring, instrument: Instrument) -> tuple[str, ...]:
    del adjustment
    always = ("wire-under-tension", "cut-string", "sharp-ends", "string-to-pitch")
    return (*always, "spring-load") if instrument.bridge.kind == "floating" else always


KIND = AdjustmentKind(
    name="restring",
    words=mark("new strings"),
    order=1,
    model=Restring,
    effect=_effect,
    dangers=_dangers,
    move=_move,
    verified_by=lambda adjustment, target: True,
    planned=False,
)
