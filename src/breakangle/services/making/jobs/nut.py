"""A new nut: where each slot lies, how wide, how deep, at which angle; how high the blank; the files for it."""

from collections.abc import Mapping
from typing import Any

from breakangle.documents.true_size.compensation import Compensation, compensation_of
from breakangle.documents.true_size.kinds import Option
from breakangle.documents.true_size.nut_slots_cut import OPTIONS, Slot, nut_blank
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.services.making.kinds import Job, MakingSheet, Paper, mm

SIZES = tuple(one.name for one in OPTIONS)


def _rests_on(asked: Mapping[str, Any], back: Compensation | None) -> tuple[str, ...]:
    said = (
        tr(
            "Crowns {high} high, level, and a straight neck: set the relief before the last strokes.",
            high=mm(asked["crown"]),
        ),
        tr("The clearance wanted over the first crown. Stop above it and read: a slot is cut once."),
        tr(
            "True-size strips to stick on: template nut-slots; a nut moved for intonation: template fret-positions."
        ),
    )
    if back is None:
        return said
    return (
        *said,
        tr(
            "Moved front edges go with the saddle points beside them, not with the old saddle: every fretted note "
            "then comes as near as these strings allow; on the worst string a note is then typically {cents:.1f} "
            "cents off.",
            cents=float(back.left_cents.max()),
        ),
    )


def _row(one: Slot, back: Compensation | None) -> tuple[str, ...]:
    """Return a slot as a row of the table; with a nut moved, its front edge and the saddle that goes with it."""
    row = (
        str(one.string.string),
        one.string.note,
        *map(mm, (one.middle_mm, one.width_mm, one.floor_mm, one.top_mm)),
    )
    if back is None:
        return row
    at = one.string.string - 1
    return (*row, mm(float(back.nut_mm[at])), mm(float(back.saddle_mm[at])))


def _head(back: Compensation | None) -> tuple[str, ...]:
    head = (
        tr("string"),
        tr("note"),
        tr("middle from the bass end"),
        tr("slot width"),
        tr("floor over the seat"),
        tr("top over the seat"),
    )
    return (
        head
        if back is None
        else (*head, tr("front edge toward the bridge"), tr("saddle back from the scale's end"))
    )


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    nut = nut_blank(service, {name: asked[name] for name in SIZES})
    back = compensation_of(service) if asked["moved"] == "yes" else None
    slope = f"{nut.slope_degrees:.0f}°"
    files = dict.fromkeys(mm(one.width_mm) for one in sorted(nut.slots, key=lambda each: each.width_mm))
    figures = [
        {"string": one.string.string, "floor_mm": round(one.floor_mm, 3), "width_mm": round(one.width_mm, 3)}
        | ({} if back is None else {"front_mm": round(float(back.nut_mm[one.string.string - 1]), 3)})
        for one in nut.slots
    ]
    return MakingSheet(
        title=tr("Nut"),
        lead=tr(
            "Blank {long} long and at least {high} high over its seat; slots fall {slope} to the head.",
            long=mm(nut.length_mm),
            high=mm(nut.height_mm),
            slope=slope,
        ),
        facts=(
            (
                tr("blank, length and height"),
                tr("{long} by {high}", long=mm(nut.length_mm), high=mm(nut.height_mm)),
            ),
            (
                tr("slots fall toward the head by"),
                tr("{slope} (half of the head's {head:g}°)", slope=slope, head=asked["head"]),
            ),
            (tr("files, narrowest first"), ", ".join(files)),
        ),
        head=_head(back),
        rows=tuple(_row(one, back) for one in nut.slots),
        named=2,
        rests_on=_rests_on(asked, back),
        dangers=("harmful-dust", "filing", "wire-under-tension"),
        figures={"blank_mm": round(nut.height_mm, 3), "length_mm": round(nut.length_mm, 3), "slots": figures},
        papers=(Paper("nut-blank", {name: asked[name] for name in SIZES}),),
    )


JOB = Job(
    name="nut",
    words=mark("nut"),
    told=mark("a new nut: its blank, and every slot's place, width, floor and file"),
    reckon=_reckon,
    findings=("low-slot",),
    procedure="nut-making",
    options=(
        *OPTIONS,
        Option("moved", mark("front edges moved for intonation"), "choice", "no", choices=("no", "yes")),
    ),
)
