"""Wedge off a heel at true size: both cheeks from top to cap, and the tapered shim under the board's tongue."""

from collections.abc import Mapping
from typing import Any

from breakangle.documents.true_size.geometry import Curve, Drawing, Figures, Line, Part, Words
from breakangle.documents.true_size.kinds import Option, TemplateKind, figure_in
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr

BETWEEN_MM, CHEEK_MM = 12.0, 24.0  # between the drawings; a cheek's own width on paper, to be stuck on


def _cheek(at_mm: float, heel_mm: float, wedge_mm: float, name: str, own_unit: str) -> list[Part]:
    """Return a cheek: the joint's edge, and the line to cut to, nothing at the top and `wedge_mm` at the cap."""
    outline = ((at_mm, 0.0), (at_mm + CHEEK_MM, 0.0), (at_mm + CHEEK_MM, -heel_mm), (at_mm, -heel_mm))
    cap = at_mm + max(wedge_mm, 0.0)
    return [
        Curve(outline, closed=True),
        Line((at_mm, 0.0), (cap, -heel_mm)),
        Words((at_mm + CHEEK_MM / 2.0, 2.0), name, 2.4, "middle"),
        Words((at_mm + CHEEK_MM / 2.0, -heel_mm - 4.0), figure_in(wedge_mm, own_unit), 2.4, "middle"),
    ]


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    heel, tongue, rise = asked["heel"], asked["tongue"], max(asked["rise"], 0.0)
    second, third = CHEEK_MM + BETWEEN_MM, 2.0 * (CHEEK_MM + BETWEEN_MM)
    shim = ((third, 0.0), (third + tongue, 0.0), (third + tongue, rise))
    parts: list[Part] = [
        *_cheek(0.0, heel, asked["wedge_bass"], tr("bass side"), asked["own_unit"]),
        *_cheek(second, heel, asked["wedge_treble"], tr("treble side"), asked["own_unit"]),
        Curve(shim, closed=True),
        Words((third + tongue / 2.0, -4.5), tr("shim under the tongue"), 2.4, "middle"),
    ]
    rows = (
        (tr("off the cheek at the cap, bass, mm"), f"{asked['wedge_bass']:.2f}"),
        (tr("off the cheek at the cap, treble, mm"), f"{asked['wedge_treble']:.2f}"),
        (tr("heel from the top's edge to its cap, mm"), f"{heel:.2f}"),
        (tr("shim at the tongue's end, mm"), f"{rise:.2f}"),
    )
    told = (
        tr("Each cheek with its top edge up; the straight left edge lies against the body. What is left of the line "
           "comes off."),
        tr("A glued neck, cracks, or an old or valuable instrument: this sheet goes with it to a specialist."),
        tr("Cut short of the line, put it together dry, and read the angle at both sides before the last strokes."),
    )  # fmt: skip
    name = service.instrument_now().name
    return Drawing(tr("Wedge off the heel"), name, told, tuple(parts), (Figures((tr("of it"), ""), rows),))


KIND = TemplateKind(
    name="neck-wedge",
    words=mark("wedge off the heel"),
    told=mark("both cheeks of a heel with the line to cut to, and the shim under the tongue, for a neck that is reset"),
    draw=_draw,
    options=(
        Option("wedge_bass", mark("off the heel at its cap, bass side, mm"), "length", 1.0, 0.0, 10.0),
        Option("wedge_treble", mark("the same at the treble side, mm"), "length", 1.0, 0.0, 10.0),
        Option("heel", mark("depth of the heel from the top's edge to its cap, mm"), "length", 90.0, 10.0, 150.0),
        Option("tongue", mark("length of the board over the body, mm"), "length", 65.0, 5.0, 90.0),
        Option("rise", mark("rise of the tongue's end off the top, mm"), "length", 0.7, 0.0, 10.0),
    ),
)  # fmt: skip
