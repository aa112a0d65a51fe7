"""A new saddle: how high its blank is under each string, how much stands over the bridge, and the break angle."""

from collections.abc import Mapping
from typing import Any

from breakangle.documents.templates.saddle_blank import OPTIONS
from breakangle.documents.true_size.compensation import compensation_of
from breakangle.documents.true_size.kinds import Option
from breakangle.documents.true_size.wanted import board_for, saddle_over_bridge_mm
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.physics.making.neck_angle import break_angle_degrees
from breakangle.services.making.kinds import Job, MakingSheet, Paper, mm

SIZES = tuple(one.name for one in OPTIONS)
# Where nothing else is said below: common practice, no source.
LEAST_BREAK_DEGREES = 12.0
IN_SLOT_SHARE = 0.5  # of the whole saddle at least
RESTS_ON = (
    mark(
        "Airspace by a straight-edge on the frets, under the outer strings, to the bridge's top; action as wanted."
    ),
    mark("Crown points are for a nut left where it is; true-size line: template saddle-line."),
)
TALL = mark(
    "More of this saddle stands out of its slot than in it: it leans under the strings; a deeper slot."
)


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    board = board_for(service)
    over = saddle_over_bridge_mm(service, board, asked["airspace_bass"], asked["airspace_treble"])
    back = compensation_of(service).plain_saddle_mm
    angle = break_angle_degrees(over, asked["behind"], asked["anchor"])
    whole = over + asked["slot"]
    too_low = bool(over.min() < asked["least"] or angle.min() < LEAST_BREAK_DEGREES)
    rows = tuple(
        (str(one.string), one.note, mm(over[i]), mm(whole[i]), mm(back[i]), f"{angle[i]:.0f}°")
        for i, one in reversed(list(enumerate(board.instrument.in_order())))
    )
    tall = asked["slot"] / whole.max() < IN_SLOT_SHARE
    return MakingSheet(
        title=tr("Saddle"),
        lead=_lead(float(over.min()), float(angle.min()), float(whole.max()), asked["least"]),
        facts=(
            (tr("blank, height"), mm(float(whole.max()))),
            (tr("in its slot"), mm(asked["slot"])),
            (tr("lowest over the bridge"), mm(float(over.min()))),
        ),
        head=(tr("string"), tr("note"), tr("over the bridge"), tr("whole height"),
              tr("crown back from the scale's end"), tr("break angle")),
        rows=rows,
        named=2,
        rests_on=(*RESTS_ON, *((tr(TALL),) if tall else ())),
        dangers=("harmful-dust", "filing", "wire-under-tension"),
        figures={
            "over_bridge_mm": over.round(3).tolist(), "height_mm": whole.round(3).tolist(),
            "back_mm": back.round(3).tolist(), "break_degrees": angle.round(1).tolist(), "too_low": too_low,
        },
        papers=(Paper("saddle-blank", {name: asked[name] for name in SIZES}),),
    )  # fmt: skip


def _lead(over: float, angle: float, blank: float, least: float) -> str:
    if over < least:
        return tr(
            "A saddle for this action would stand only {mm} over the bridge, below the least "
            "good {mm_2}: see the neck's angle before one is made.",
            mm=mm(over),
            mm_2=mm(least),
        )
    if angle < LEAST_BREAK_DEGREES:
        return tr(
            "The strings would break over it by only {angle:.0f}°, below the least good "
            "{least_break_degrees:.0f}°.",
            angle=angle,
            least_break_degrees=LEAST_BREAK_DEGREES,
        )
    return tr(
        "Blank {mm} high; it stands {mm_2} over the bridge at its lowest and breaks by {angle:.0f}°.",
        mm=mm(blank),
        mm_2=mm(over),
        angle=angle,
    )


JOB = Job(
    name="saddle",
    words=mark("saddle"),
    told=mark("a new saddle: height under each string, what stands over the bridge, crown points and break angle"),
    reckon=_reckon,
    procedure="saddle-making",
    options=(
        *OPTIONS,
        Option("least", mark("least good of the saddle over the bridge, mm"), "length", 1.6, 0.2, 10.0),
        Option("behind", mark("from the saddle back to pin or tie, mm"), "length", 8.0, 2.0, 60.0),
        Option("anchor", mark("how far the string leaves below the bridge's top there, mm"), "length", 1.0, 0.0, 20.0),
    ),
)  # fmt: skip
