"""String height and relief ruler: steps to stand under a string, and wedges to slide until they touch."""

from collections.abc import Mapping
from typing import Any

from breakangle.documents.true_size.geometry import Curve, Drawing, Line, Part, Words, box
from breakangle.documents.true_size.kinds import Option, TemplateKind
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr

TREAD_MM, BASE_MM = 9.0, 14.0
CARD_WIDE_MM, CARD_HIGH_MM = 60.0, 24.0
WEDGES = (("relief", 1.0, 0.1), ("action", 3.0, 0.25))  # what it is for, highest reading and step, mm
WEDGE_MM = 120.0


def _steps(highest_mm: float, step_mm: float, y_mm: float) -> list[Part]:
    """Return a stair to stand on the board under a string: each tread's height is counted from its foot."""
    count = round(highest_mm / step_mm)
    points = [(0.0, y_mm)]
    parts: list[Part] = []
    for number in range(1, count + 1):
        up, x = y_mm + BASE_MM + number * step_mm, (number - 1) * TREAD_MM
        points += [(x, up), (x + TREAD_MM, up)]
        parts.append(
            Words((x + TREAD_MM / 2.0, y_mm + BASE_MM - 3.6), f"{number * step_mm:g}", 2.4, "middle")
        )
    end = count * TREAD_MM
    points.append((end, y_mm))
    foot = Line((0.0, y_mm + BASE_MM), (end, y_mm + BASE_MM), "aid")
    return [
        *parts,
        foot,
        Curve(tuple(points), closed=True),
        Words((2.0, y_mm + 3.0), tr("steps over the dashed line, mm"), 2.4),
    ]


def _card(highest_mm: float, y_mm: float) -> list[Part]:
    """Return a card whose lower edge stands on the crowns: its lines are read against the string's underside."""
    parts: list[Part] = [box(0.0, y_mm, CARD_WIDE_MM, CARD_HIGH_MM)]
    for number in range(1, round(highest_mm / 0.5) + 1):
        up = y_mm + number * 0.5
        whole = number % 2 == 0
        parts.append(Line((CARD_WIDE_MM - (26.0 if whole else 18.0), up), (CARD_WIDE_MM, up)))
    parts += [
        Words((CARD_WIDE_MM - 27.5, y_mm + number - 0.6), f"{number}", 1.9, "right")
        for number in range(1, int(highest_mm) + 1, 2)
    ]
    told = Words((2.0, y_mm + CARD_HIGH_MM - 5.0), tr("stand on two crowns; lines every 0.5 mm"), 2.2)
    return [*parts, told]


def _wedge(name: str, highest_mm: float, step_mm: float, y_mm: float) -> list[Part]:
    """Return a wedge with a scale: slid between crown and string, it shows the gap where it stops."""
    points = ((0.0, y_mm), (WEDGE_MM, y_mm), (WEDGE_MM, y_mm + highest_mm))
    parts: list[Part] = [Curve(points, closed=True), box(WEDGE_MM, y_mm, 34.0, 10.0)]
    parts.append(Words((WEDGE_MM + 2.0, y_mm + 3.5), f"{name}: {highest_mm:g} mm", 2.4))
    for number in range(1, round(highest_mm / step_mm) + 1):
        x = WEDGE_MM * number * step_mm / highest_mm
        parts.append(Line((x, y_mm - 2.0), (x, y_mm)))
        parts.append(Words((x, y_mm - 4.8), f"{number * step_mm:g}", 2.0, "middle"))
    return parts


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    parts = _steps(asked["highest"], asked["step"], 0.0)
    parts += _card(6.0, -42.0)
    for row, (name, highest, step) in enumerate(WEDGES):
        parts += _wedge(name, highest, step, -66.0 - 24.0 * row)
    told = (
        tr(
            "Transfer to thin plastic or sheet metal: paper itself is good to about a tenth of a "
            "millimetre, and a wedge cut by hand to no better than the knife."
        ),
        tr(
            "A wedge is slid in along the string until it just lifts it; check it against a feeler before you trust it."
        ),
    )
    return Drawing(tr("String height and relief ruler"), service.instrument.name, told, tuple(parts))


KIND = TemplateKind(
    name="height-ruler",
    words=mark("string height and relief ruler"),
    told=mark("a stair, a card and two wedges for reading string height and relief"),
    draw=_draw,
    options=(
        Option("highest", mark("highest step of the stair, mm"), "length", 3.0, 0.5, 6.0),
        Option("step", mark("from step to step, mm"), "length", 0.25, 0.1, 1.0),
    ),
)  # fmt: skip
