"""Nut blank at true size: from the board, with every slot to its floor, and from its end, with the slots' fall."""

from collections.abc import Mapping
from math import radians, tan
from typing import Any

from breakangle.documents.true_size.geometry import Arc, Curve, Drawing, Figures, Line, Part, Words, box
from breakangle.documents.true_size.kinds import Option, TemplateKind
from breakangle.documents.true_size.nut_slots_cut import OPTIONS, NutBlank, Slot, nut_blank
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr

END_VIEW_MM = 14.0  # from the front view to that of the end


def _slot(one: Slot) -> list[Part]:
    """Return a slot's walls and round floor; its middle stands as a line below the seat, with the string's number."""
    x, half = one.middle_mm, one.width_mm / 2.0
    ground = one.floor_mm + half
    walls = [
        Line((x + way * half, ground), (x + way * half, one.top_mm))
        for way in (-1.0, 1.0)
        if one.top_mm > ground  # a slot no deeper than its string's middle is all floor
    ]
    floor = Arc((x, ground), half, 180.0, 360.0)
    return [*walls, floor, Line((x, -2.5), (x, 0.0)), Words((x, -5.2), str(one.string.string), 2.2, "middle")]


def _end(nut: NutBlank, at_mm: float, thick_mm: float) -> list[Part]:
    """Return the end view: board side at the left, the highest slot's floor falling to the head."""
    floor = max(one.floor_mm for one in nut.slots)
    back = floor - thick_mm * tan(radians(nut.slope_degrees))
    parts: list[Part] = [
        box(at_mm, 0.0, thick_mm, nut.height_mm),
        Line((at_mm, floor), (at_mm + thick_mm, back)),
        Words((at_mm + thick_mm / 2.0, -5.2), tr("end"), 2.2, "middle"),
    ]
    return parts


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    nut = nut_blank(service, asked)
    tops = Curve(tuple((one.middle_mm, one.top_mm) for one in nut.slots), role="aid")
    parts: list[Part] = [box(0.0, 0.0, nut.length_mm, nut.height_mm), tops]
    for one in nut.slots:
        parts += _slot(one)
    if asked["seat"]:
        face = Line((0.0, asked["seat"]), (nut.length_mm, asked["seat"]), "aid")
        parts.append(face)
    parts += _end(nut, nut.length_mm + END_VIEW_MM, asked["thick"])
    rows = tuple(
        (str(one.string.string), one.string.note, f"{one.middle_mm:.2f}", f"{one.width_mm:.2f}",
         f"{one.floor_mm:.2f}", f"{one.top_mm:.2f}")
        for one in nut.slots
    )  # fmt: skip
    head = (
        tr("string"),
        tr("note"),
        tr("middle from the bass end, mm"),
        tr("slot width, mm"),
        tr("floor over the seat, mm"),
        tr("top over the seat, mm"),
    )
    told = (
        tr(
            "From the board, bass end at the left; the dashed line is how high the top is left under the strings."
        ),
        tr(
            "The blank is {length:.2f} mm by {height:.2f} mm, 0.50 mm of it to be shaped away.",
            length=nut.length_mm,
            height=nut.height_mm,
        ),
        tr("Floors are for level crowns and a straight neck: stop 0.20 mm above, string up, and read."),
    )
    instrument = service.instrument_now()
    return Drawing(tr("Nut blank"), instrument.name, told, tuple(parts), (Figures(head, rows),))


KIND = TemplateKind(
    name="nut-blank",
    words=mark("nut blank"),
    told=mark(
        "the nut from the board with every slot down to its floor, and from its end with the slots' fall"
    ),
    draw=_draw,
    options=(*OPTIONS, Option("thick", mark("thickness of the nut, mm"), "length", 6.0, 2.0, 15.0)),
)
