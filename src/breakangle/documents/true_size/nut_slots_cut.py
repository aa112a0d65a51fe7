"""A nut's slots as they are to be cut: place, width, floor and top of each, for the sheet and for the paper."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from breakangle.documents.templates.nut_slots import slot_places_mm
from breakangle.documents.true_size.kinds import Option
from breakangle.documents.true_size.wanted import board_for, floors_mm
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import String
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.physics.making.nut import blank_height_mm
from breakangle.reference.strings import make

# Where nothing else is said below: common practice, no source.
SLOT_WIDER_MM = 0.05  # so that a string slides and does not rattle
BURIED_PLAIN, BURIED_WOUND = 0.9, 0.5  # of a string's diameter in its slot
BLANK_OVER_MM = 0.5  # left on for shaping
OPTIONS = (
    Option("spacing", mark("what is equal: the gaps between edges, or the distances of the middles"),
    "choice", "gaps",
           choices=("gaps", "centres")),
    Option("spread", mark("between the middles of the outer strings, mm (0: the instrument's)"), "length", 0.0, 0.0,
           150.0),
    Option("edge", mark("from an outer slot's middle to the end of the nut, mm"), "length", 3.5, 0.5, 20.0),
    Option("crown", mark("height of the first crown above the board, mm"), "length", 1.05, 0.3, 3.0),
    Option("seat", mark("how far the nut's seat lies below the board's face, mm"), "length", 0.0, 0.0, 15.0),
    Option("head", mark("angle of the head, degrees"), "ratio", 12.0, 0.0, 25.0),
)  # fmt: skip


@dataclass(frozen=True)
class Slot:
    """One slot: its string, its middle from the nut's bass end, its width, floor and top over the seat, mm."""

    string: String
    middle_mm: float
    width_mm: float
    floor_mm: float
    top_mm: float


@dataclass(frozen=True)
class NutBlank:
    """A nut to be cut: its slots from the bass side, and the blank's length and height with what is left on, mm."""

    slots: tuple[Slot, ...]
    length_mm: float
    height_mm: float
    slope_degrees: float


def nut_blank(service: Service, asked: Mapping[str, Any]) -> NutBlank:
    """Return the nut for the service's instrument; `asked` are values of `OPTIONS` by name.

    Raises:
        CorrectInputError: no string starts at the nut.
    """
    board = board_for(service)
    instrument = board.instrument
    places = slot_places_mm(instrument, asked["spread"] or instrument.spread_nut_mm, asked["spacing"])
    if not places:
        raise CorrectInputError(
            tr("no string of this instrument starts at the nut"), tr("a nut that carries strings"), ""
        )
    floors = floors_mm(service, board) + asked["crown"] + asked["seat"]
    start, found = min(places.values()) - asked["edge"], []
    for one in reversed(instrument.in_order()):
        if one.string in places:
            buried = BURIED_WOUND if make(one.make).wound else BURIED_PLAIN
            floor = float(floors[one.string - 1])
            top = float(blank_height_mm(floor, one.diameter_mm, buried))
            width = one.diameter_mm + SLOT_WIDER_MM
            found.append(Slot(one, places[one.string] - start, width, floor, top))
    long = max(one.middle_mm for one in found) + asked["edge"]
    return NutBlank(tuple(found), long, max(one.top_mm for one in found) + BLANK_OVER_MM, asked["head"] / 2.0)
