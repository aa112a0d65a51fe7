"""What is wanted of an instrument to be built, and the instrument that follows: scale, tuning, strings."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from breakangle.model.complaint import complaints
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.state.board import board_of
from breakangle.reference.families import Family, family
from breakangle.services.service_files.example import empty_service, usual_instrument
from breakangle.services.strings.sizes import chosen, find_gauges

SIZES = ("scale_mm", "frets", "joint_fret", "board_radius_mm", "spread_nut_mm", "spread_bridge_mm")


@dataclass(frozen=True)
class Wishes:
    """What is wanted: `sizes` replace the family's, by their names; `notes` string 1 first; `keep_gauges` as usual.

    Without `keep_gauges`, strings are chosen from what the trade sells so that each pulls as the family's usual one.
    """

    kind: str
    name: str
    sizes: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    keep_gauges: bool = False


def designed_service(wishes: Wishes) -> Service:
    """Return a service of the instrument that is wanted, with nothing read.

    Raises:
        CorrectInputError: a kind, note or size that cannot be, or another number of notes than of strings.
    """
    kin = family(wishes.kind)
    instrument = _instrument(kin, wishes)
    service = empty_service(kin, wishes.name).model_copy(update={"instrument": instrument})
    if wishes.keep_gauges or not (wishes.notes or "scale_mm" in wishes.sizes):
        return service
    usual = board_of(usual_instrument(kin, wishes.name)).tension_n
    pulls = {index + 1: float(pull) for index, pull in enumerate(usual)}
    new = {one.string: one for one in chosen(service, find_gauges(service, pulls))}
    strings = tuple(new.get(one.string, one) for one in instrument.in_order())
    return service.model_copy(update={"instrument": instrument.model_copy(update={"strings": strings})})


def _instrument(kin: Family, wishes: Wishes) -> Instrument:
    """Return the family's usual instrument with the sizes and notes that are wanted, checked as a whole."""
    data: dict[str, Any] = usual_instrument(kin, wishes.name).model_dump(mode="json", exclude_unset=True)
    unknown = set(wishes.sizes) - set(SIZES)
    if unknown:
        raise CorrectInputError(
            tr('"{unknown}" is no size of a design', unknown=min(unknown)),
            tr("one of {sizes}", sizes=", ".join(SIZES)),
            "",
        )
    data |= {name: int(value) if "fret" in name else value for name, value in wishes.sizes.items()}
    if wishes.notes:
        if len(wishes.notes) != len(data["strings"]):
            raise CorrectInputError(
                tr(
                    "{notes_count} notes for {strings_count} strings",
                    notes_count=len(wishes.notes),
                    strings_count=len(data["strings"]),
                ),
                tr("one note a string, string 1 first"),
                "",
            )
        for one, note in zip(
            sorted(data["strings"], key=lambda each: each["string"]), wishes.notes, strict=True
        ):
            one["note"] = note
    try:
        return Instrument.model_validate(data)
    except ValidationError as cause:
        first = complaints(cause, Instrument, data)[0]
        raise CorrectInputError(first.removeprefix("$."), "", tr("ask for another")) from cause
