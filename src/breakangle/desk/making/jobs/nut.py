"""A new nut: where each slot lies, how wide, how deep, at which angle; how high the blank; the files for it."""

from collections.abc import Mapping
from typing import Any

from breakangle.desk.making.kinds import Job, MakingSheet, mm
from breakangle.desk.making.wanted import board_for, floors_mm
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.physics.making.nut import blank_height_mm
from breakangle.report.kinds import Option
from breakangle.report.templates.nut_slots import slot_places_mm
from breakangle.tables.strings import make

# Where nothing else is said below: common practice, no source.
SLOT_WIDER_MM = 0.05  # so that a string slides and does not rattle
BURIED_PLAIN, BURIED_WOUND = 0.9, 0.5  # of a string's diameter in its slot
BLANK_OVER_MM = 0.5  # left on for shaping


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    board = board_for(service)
    instrument = board.instrument
    spread = asked["spread"] or instrument.spread_nut_mm
    places = slot_places_mm(instrument, spread, asked["spacing"])
    if not places:
        raise CorrectInputError(
            "no string of this instrument starts at the nut", "a nut that carries strings", ""
        )
    floors = floors_mm(service, board) + asked["crown"] + asked["seat"]
    start = min(places.values()) - asked["edge"]
    rows, tops, plain = [], [], []
    for one in reversed(instrument.in_order()):
        if one.string not in places:
            continue
        index = one.string - 1
        wound = make(one.make).wound
        floor = float(floors[index])
        top = float(blank_height_mm(floor, one.diameter_mm, BURIED_WOUND if wound else BURIED_PLAIN))
        width = one.diameter_mm + SLOT_WIDER_MM
        tops.append(top)
        plain.append({"string": one.string, "floor_mm": round(floor, 3), "width_mm": round(width, 3)})
        rows.append(
            (str(one.string), one.note, mm(places[one.string] - start), mm(width), mm(floor), mm(top))
        )
    blank = max(tops) + BLANK_OVER_MM
    ends = max(places.values()) - min(places.values()) + 2.0 * asked["edge"]
    slope = asked["head"] / 2.0
    return MakingSheet(
        title="Nut",
        lead=f"Blank {mm(ends)} long and at least {mm(blank)} high over its seat; slots fall {slope:.0f}° to the head.",
        facts=(
            ("blank, length and height", f"{mm(ends)} by {mm(blank)}"),
            ("slots fall toward the head by", f"{slope:.0f}° (half of the head's {asked['head']:g}°)"),
            ("files, narrowest first", ", ".join(dict.fromkeys(row[3] for row in reversed(rows)))),
        ),
        head=(
            "string",
            "note",
            "middle from the bass end",
            "slot width",
            "floor over the seat",
            "top over the seat",
        ),
        rows=tuple(rows),
        rests_on=(
            f"Crowns {mm(asked['crown'])} high, level, and a straight neck: set the relief before the last strokes.",
            "The clearance wanted over the first crown. Stop above it and read: a slot is cut once.",
            "True-size strips to stick on: template nut-slots; a nut moved for intonation: template fret-positions.",
        ),
        dangers=("harmful-dust", "filing", "wire-under-tension"),
        figures={"blank_mm": round(blank, 3), "length_mm": round(ends, 3), "slots": plain},
    )


JOB = Job(
    name="nut",
    words="nut",
    told="a new nut: its blank, and every slot's place, width, floor and file",
    reckon=_reckon,
    options=(
        Option("spacing", "what is equal: the gaps between edges, or the distances of the middles", "choice", "gaps",
               choices=("gaps", "centres")),
        Option("spread", "between the middles of the outer strings, mm (0: the instrument's)", "length", 0.0, 0.0,
               150.0),
        Option("edge", "from an outer slot's middle to the end of the nut, mm", "length", 3.5, 0.5, 20.0),
        Option("crown", "height of the first crown above the board, mm", "length", 1.05, 0.3, 3.0),
        Option("seat", "how far the nut's seat lies below the board's face, mm", "length", 0.0, 0.0, 15.0),
        Option("head", "angle of the head, degrees", "ratio", 12.0, 0.0, 25.0),
    ),
)  # fmt: skip
