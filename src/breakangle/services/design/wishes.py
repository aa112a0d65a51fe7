"""What is wanted of an instrument to be built, and the instrument that follows: scale, tuning, strings."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from pydantic import ValidationError

from breakangle.model.complaint import complaints
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.kind.kind_table import KindTable
from breakangle.model.reading import Target
from breakangle.model.service import Hand, Service, Targets
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.kinds.targets.gap import GapTarget, is_relief, trade_name
from breakangle.planning.state.board import board_of
from breakangle.reference.families import Family, family_with
from breakangle.services.service_files.example import empty_service, usual_instrument
from breakangle.services.strings.sizes import chosen, find_gauges

SIZES = ("scale_mm", "frets", "joint_fret", "board_radius_mm", "spread_nut_mm", "spread_bridge_mm")


@dataclass(frozen=True)
class Wishes:
    """What is wanted: `sizes` replace the family's, by their names; `notes` string 1 first; `keep_gauges` as usual.

    `hand` chooses the house's figures; `action_mm` at the lowest and the highest string, straight between, first fret
    held, and `relief_mm` stand in their place.

    `made` is the table of a kind that a shop made.

    Without `keep_gauges`, strings are chosen from what the trade sells so that each pulls as the family's usual one.
    """

    kind: str
    name: str
    sizes: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    keep_gauges: bool = False
    hand: Hand = "medium"
    action_mm: tuple[float, float] | None = None
    relief_mm: float | None = None
    made: KindTable | None = None


def designed_service(wishes: Wishes) -> Service:
    """Return a service of the instrument that is wanted, with nothing read.

    Raises:
        CorrectInputError: a kind, note or size that cannot be, or another number of notes than of strings.
    """
    kin = family_with(wishes.kind, wishes.made)
    instrument = _instrument(kin, wishes)
    service = empty_service(kin, wishes.name).model_copy(update={"instrument": instrument})
    if wishes.keep_gauges or not (wishes.notes or "scale_mm" in wishes.sizes):
        return _with_targets(service, wishes)
    usual = board_of(usual_instrument(kin, wishes.name)).tension_n
    pulls = {index + 1: float(pull) for index, pull in enumerate(usual)}
    new = {one.string: one for one in chosen(service, find_gauges(service, pulls))}
    strings = tuple(new.get(one.string, one) for one in instrument.in_order())
    strung = service.model_copy(update={"instrument": instrument.model_copy(update={"strings": strings})})
    return _with_targets(strung, wishes)


def _with_targets(service: Service, wishes: Wishes) -> Service:
    """Return the service with what is wanted written down, so that its first visit has it."""
    board = board_of(service.instrument, service.reference_hz)
    wanted: list[Target] = []
    for one in house_targets(board, wishes.hand):
        if not isinstance(one, GapTarget):
            continue
        if wishes.relief_mm is not None and is_relief(one):
            wanted.append(one.model_copy(update={"mm": round(wishes.relief_mm, 3)}))
        if wishes.action_mm is not None and trade_name(one) == "action":
            low, high = wishes.action_mm
            share = float(np.clip((1.0 - board.side_ratio[one.string - 1]) / 2.0, 0.0, 1.0))
            wanted.append(one.model_copy(update={"mm": round(high + (low - high) * share, 3)}))
    if not wanted and wishes.hand == "medium":
        return service
    return service.model_copy(update={"targets": Targets(hand=wishes.hand, wanted=tuple(wanted))})


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
