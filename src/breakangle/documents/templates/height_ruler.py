"""String height and relief ruler: steps to stand under a string, and wedges to slide until they touch."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from breakangle.documents.true_size.geometry import Curve, Drawing, Line, Part, Words, box
from breakangle.documents.true_size.kinds import SIXTY_FOURTH_MM, Option, TemplateKind
from breakangle.model.measure import INCH_MM
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr

TREAD_MM, BASE_MM = 9.0, 14.0
CARD_WIDE_MM, CARD_HIGH_MM = 60.0, 24.0
WEDGE_MM = 120.0
FINEST_STEPS = 1e-6


@dataclass(frozen=True)
class _Graduation:
    """How a unit graduates the sheet: what one is in mm and how it is called, the card's lines, the wedges.

    `lines`: how many of the card's lines there are, the mm from one to the next, after how many a longer and after how
    many a numbered one stands. `wedges`: what each is for, the mm of its unit, its highest reading and its step in that
    unit, and how the unit is written behind a number.
    """

    card_words: str
    lines: tuple[int, float, int, int]
    wedges: tuple[tuple[str, float, float, float, str], ...]


# An action is read in 64ths of an inch, a relief in thousandths, as the trade's rules and feelers are marked.
GRADUATIONS = {
    "mm": _Graduation(
        mark("stand on two crowns; lines every 0.5 mm"),
        (12, 0.5, 2, 4),
        (("relief", 1.0, 1.0, 0.1, " mm"), ("action", 1.0, 3.0, 0.25, " mm")),
    ),
    "in": _Graduation(
        mark("stand on two crowns; lines every 64th of an inch"),
        (16, SIXTY_FOURTH_MM, 4, 4),
        (("relief", INCH_MM, 0.04, 0.005, " in"), ("action", SIXTY_FOURTH_MM, 8.0, 1.0, "/64 in")),
    ),
}


def _said(mm: float, step_mm: float, own_unit: str) -> str:
    """Return a step's height as a bare number: in 64ths of an inch where every step is so many of them."""
    if own_unit == "mm":
        return f"{mm:g}"
    return f"{mm / SIXTY_FOURTH_MM:g}" if _in_64ths(step_mm) else f"{mm / INCH_MM:.3f}"


def _in_64ths(step_mm: float) -> bool:
    count = step_mm / SIXTY_FOURTH_MM
    return abs(count - round(count)) < FINEST_STEPS


def _steps(highest_mm: float, step_mm: float, y_mm: float, own_unit: str) -> list[Part]:
    """Return a stair to stand on the board under a string: each tread's height is counted from its foot."""
    count = round(highest_mm / step_mm)
    points = [(0.0, y_mm)]
    parts: list[Part] = []
    for number in range(1, count + 1):
        up, x = y_mm + BASE_MM + number * step_mm, (number - 1) * TREAD_MM
        points += [(x, up), (x + TREAD_MM, up)]
        words = _said(round(number * step_mm, 6), step_mm, own_unit)
        parts.append(Words((x + TREAD_MM / 2.0, y_mm + BASE_MM - 3.6), words, 2.4, "middle"))
    end = count * TREAD_MM
    points.append((end, y_mm))
    foot = Line((0.0, y_mm + BASE_MM), (end, y_mm + BASE_MM), "aid")
    unit = tr("64ths of an inch") if own_unit == "in" and _in_64ths(step_mm) else own_unit
    told = Words((2.0, y_mm + 3.0), tr("steps over the dashed line, {unit}", unit=unit), 2.4)
    return [*parts, foot, Curve(tuple(points), closed=True), told]


def _card(graduation: _Graduation, y_mm: float) -> list[Part]:
    """Return a card whose lower edge stands on the crowns: its lines are read against the string's underside."""
    count, apart_mm, longer, numbered = graduation.lines
    parts: list[Part] = [box(0.0, y_mm, CARD_WIDE_MM, CARD_HIGH_MM)]
    for number in range(1, count + 1):
        up = y_mm + number * apart_mm
        parts.append(Line((CARD_WIDE_MM - (18.0 if number % longer else 26.0), up), (CARD_WIDE_MM, up)))
    parts += [
        Words(
            (CARD_WIDE_MM - 27.5, y_mm + number * apart_mm - 0.6), _numbered(number, apart_mm), 1.9, "right"
        )
        for number in range(longer, count + 1, numbered)
    ]
    return [*parts, Words((2.0, y_mm + CARD_HIGH_MM - 5.0), tr(graduation.card_words), 2.2)]


def _numbered(number: int, apart_mm: float) -> str:
    return f"{number}" if _in_64ths(apart_mm) else f"{number * apart_mm:g}"


def _wedge(name: str, unit_mm: float, highest: float, step: float, unit: str, y_mm: float) -> list[Part]:
    """Return a wedge with a scale: slid between crown and string, it shows the gap where it stops."""
    points = ((0.0, y_mm), (WEDGE_MM, y_mm), (WEDGE_MM, y_mm + highest * unit_mm))
    parts: list[Part] = [Curve(points, closed=True), box(WEDGE_MM, y_mm, 34.0, 10.0)]
    parts.append(Words((WEDGE_MM + 2.0, y_mm + 3.5), f"{name}: {highest:g}{unit}", 2.4))
    for number in range(1, round(highest / step) + 1):
        x = WEDGE_MM * number * step / highest
        parts.append(Line((x, y_mm - 2.0), (x, y_mm)))
        parts.append(Words((x, y_mm - 4.8), f"{round(number * step, 6):g}", 2.0, "middle"))
    return parts


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    own_unit = asked["own_unit"]
    graduation = GRADUATIONS[own_unit]
    parts = _steps(asked["highest"], asked["step"], 0.0, own_unit)
    parts += _card(graduation, -42.0)
    for row, (name, unit_mm, highest, step, unit) in enumerate(graduation.wedges):
        parts += _wedge(name, unit_mm, highest, step, unit, -66.0 - 24.0 * row)
    told = (
        tr(
            "Transfer to thin plastic or sheet metal: paper itself is good to about 0.10 mm, "
            "and a wedge cut by hand to no better than the knife."
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
        Option("highest", mark("highest step of the stair, mm"), "length", 3.0, 0.5, 6.0,
               usual_in=8.0 * SIXTY_FOURTH_MM),
        Option("step", mark("from step to step, mm"), "length", 0.25, 0.1, 1.0, usual_in=SIXTY_FOURTH_MM),
    ),
)  # fmt: skip
