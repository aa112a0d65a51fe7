"""A new nut: where each slot lies, how wide, how deep, at which angle; how high the blank; the files for it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from breakangle.documents.templates.nut_slots import slot_places_mm
from breakangle.documents.true_size.kinds import Option
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import String
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.physics.making.nut import blank_height_mm
from breakangle.reference.strings import make
from breakangle.services.making.kinds import Job, MakingSheet, mm
from breakangle.services.making.wanted import board_for, floors_mm

# Where nothing else is said below: common practice, no source.
SLOT_WIDER_MM = 0.05  # so that a string slides and does not rattle
BURIED_PLAIN, BURIED_WOUND = 0.9, 0.5  # of a string's diameter in its slot
BLANK_OVER_MM = 0.5  # left on for shaping


@dataclass(frozen=True)
class _Slot:
    """One slot: its string, its middle from the nut's bass end, its width, floor and top over the seat, mm."""

    string: String
    middle_mm: float
    width_mm: float
    floor_mm: float
    top_mm: float

    @property
    def row(self) -> tuple[str, ...]:
        """Return it as a row of the table."""
        lengths = (self.middle_mm, self.width_mm, self.floor_mm, self.top_mm)
        return (str(self.string.string), self.string.note, *map(mm, lengths))

    @property
    def figures(self) -> dict[str, float]:
        """Return it as plain numbers."""
        return {
            "string": self.string.string,
            "floor_mm": round(self.floor_mm, 3),
            "width_mm": round(self.width_mm, 3),
        }


def _slots(service: Service, asked: Mapping[str, Any]) -> list[_Slot]:
    """Return the slots from the bass side."""
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
            found.append(_Slot(one, places[one.string] - start, width, floor, top))
    return found


def _rests_on(asked: Mapping[str, Any]) -> tuple[str, ...]:
    return (
        tr(
            "Crowns {high} high, level, and a straight neck: set the relief before the last strokes.",
            high=mm(asked["crown"]),
        ),
        tr("The clearance wanted over the first crown. Stop above it and read: a slot is cut once."),
        tr(
            "True-size strips to stick on: template nut-slots; a nut moved for intonation: template fret-positions."
        ),
    )


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    slots = _slots(service, asked)
    blank = max(one.top_mm for one in slots) + BLANK_OVER_MM
    long = max(one.middle_mm for one in slots) + asked["edge"]
    slope = f"{asked['head'] / 2.0:.0f}°"
    files = dict.fromkeys(mm(one.width_mm) for one in sorted(slots, key=lambda each: each.width_mm))
    return MakingSheet(
        title=tr("Nut"),
        lead=tr(
            "Blank {long} long and at least {high} high over its seat; slots fall {slope} to the head.",
            long=mm(long),
            high=mm(blank),
            slope=slope,
        ),
        facts=(
            (tr("blank, length and height"), tr("{long} by {high}", long=mm(long), high=mm(blank))),
            (
                tr("slots fall toward the head by"),
                tr("{slope} (half of the head's {head:g}°)", slope=slope, head=asked["head"]),
            ),
            (tr("files, narrowest first"), ", ".join(files)),
        ),
        head=(
            tr("string"),
            tr("note"),
            tr("middle from the bass end"),
            tr("slot width"),
            tr("floor over the seat"),
            tr("top over the seat"),
        ),
        rows=tuple(one.row for one in slots),
        named=2,
        rests_on=_rests_on(asked),
        dangers=("harmful-dust", "filing", "wire-under-tension"),
        figures={
            "blank_mm": round(blank, 3),
            "length_mm": round(long, 3),
            "slots": [one.figures for one in slots],
        },
    )


JOB = Job(
    name="nut",
    words=mark("nut"),
    told=mark("a new nut: its blank, and every slot's place, width, floor and file"),
    reckon=_reckon,
    options=(
        Option("spacing", mark("what is equal: the gaps between edges, or the distances of the middles"),
        "choice", "gaps",
               choices=("gaps", "centres")),
        Option("spread", mark("between the middles of the outer strings, mm (0: the instrument's)"), "length", 0.0, 0.0,
               150.0),
        Option("edge", mark("from an outer slot's middle to the end of the nut, mm"), "length", 3.5, 0.5, 20.0),
        Option("crown", mark("height of the first crown above the board, mm"), "length", 1.05, 0.3, 3.0),
        Option("seat", mark("how far the nut's seat lies below the board's face, mm"), "length", 0.0, 0.0, 15.0),
        Option("head", mark("angle of the head, degrees"), "ratio", 12.0, 0.0, 25.0),
    ),
)  # fmt: skip
