"""Neck depth and taper: the board from above, the neck from the side, and a gauge to slip over it at two frets."""

from collections.abc import Mapping, Sequence
from math import cos, pi, sin, sqrt
from typing import Any

from breakangle.documents.true_size.geometry import Curve, Drawing, Figures, Line, Part, Words
from breakangle.documents.true_size.kinds import Option, TemplateKind, figure_in
from breakangle.documents.true_size.outline import SQUARE_FRET, Outline, outline_of
from breakangle.model.instrument import ConicalRadius
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr

STEPS = (
    48  # pieces of the back of a section: a chord strays 0.03 mm at most from a half round of 25 mm [derived]
)
BODY_MM, BETWEEN_MM = 12.0, 22.0


def _half_width(outline: Outline, place: int) -> float:
    low, high = outline.point_mm(outline.bass, place)[1], outline.point_mm(outline.treble, place)[1]
    return (high - low) / 2.0 + outline.edge_mm


def _middle_mm(outline: Outline, place: int) -> float:
    """Return where a fret crosses the middle between the outer strings, in mm along the neck."""
    return (outline.point_mm(outline.bass, place)[0] + outline.point_mm(outline.treble, place)[0]) / 2.0


def _depth(outline: Outline, at_first: float, at_heel: float, place: int, heel: int) -> float:
    """Return the depth at a fret, in mm: a straight line through that at the first fret and that at the heel's."""
    along = [_middle_mm(outline, one) for one in (1, place, heel)]
    share = (along[1] - along[0]) / (along[2] - along[0])
    return float(at_first + (at_heel - at_first) * share)


def _radius_mm(service: Service, outline: Outline, place: int) -> float | None:
    radius = service.instrument_now().board_radius_mm
    if isinstance(radius, ConicalRadius):
        along = outline.board.along_mm[outline.bass]
        share = float(along[place] / along[outline.board.fret_count])
        return radius.at_nut + (radius.at_last_fret - radius.at_nut) * share
    return radius


def section(
    half_mm: float, depth_mm: float, radius_mm: float | None, square: float
) -> tuple[tuple[float, float], ...]:
    """Return the outline of a neck cut across, board up, its middle at x = 0 and the board's crest at y = 0.

    The back is a superellipse (|x|/half)^square + (|y|/deep)^square = 1 under the board's edges: 2 is a half
    ellipse, more is fuller at the shoulders. Depth is from the crest to the deepest point.
    """
    drop = radius_mm - sqrt(radius_mm**2 - half_mm**2) if radius_mm is not None else 0.0
    top = []
    for step in range(STEPS + 1):
        x = -half_mm + 2.0 * half_mm * step / STEPS
        top.append((x, sqrt(radius_mm**2 - x**2) - radius_mm if radius_mm is not None else 0.0))
    back = []
    for step in range(1, STEPS):
        angle = pi * step / STEPS
        x, y = abs(cos(angle)) ** (2.0 / square), sin(angle) ** (2.0 / square)
        back.append((half_mm * (x if cos(angle) > 0 else -x), -drop - (depth_mm - drop) * y))
    return (*top, *back)


def _gauge(name: str, outline_mm: tuple[tuple[float, float], ...], at_mm: tuple[float, float]) -> list[Part]:
    """Return a gauge with the back of the section cut out of it, open at the board's side."""
    x0, y0 = at_mm
    half = max(x for x, _ in outline_mm)
    deep = -min(y for _, y in outline_mm)
    back = [(x0 + x, y0 + y) for x, y in outline_mm[STEPS:]] + [
        (x0 + outline_mm[0][0], y0 + outline_mm[0][1])
    ]
    outer = half + BODY_MM
    frame = [
        (x0 - outer, back[-1][1]),
        (x0 - outer, y0 - deep - BODY_MM),
        (x0 + outer, y0 - deep - BODY_MM),
        (x0 + outer, back[0][1]),
    ]
    top = Curve(tuple((x0 + x, y0 + y) for x, y in outline_mm[: STEPS + 1]), role="aid")
    return [Curve((*back, *frame), closed=True), top, Words((x0, y0 - deep - 6.5), name, 2.6, "middle")]


def _from_above(outline: Outline, joint: int) -> list[Part]:
    """Return the board with its frets up to the joint."""
    parts: list[Part] = []
    for place in range(joint + 1):
        line = outline.fret(place)
        x, y = line.start_mm
        name = str(place) if place else "nut"
        parts += [line, Words((x + 0.9, y - 1.5), name, side="right", turned=True)]
    end = outline.point_mm(outline.bass, joint)[0]
    return [*parts, *outline.edges(0, joint), Line((-6.0, 0.0), (end + 6.0, 0.0), "aid")]


def _from_the_side(outline: Outline, depths: Sequence[float], board_mm: float) -> list[Part]:
    """Return the neck seen from its treble side, the board's crest along y = `board_mm`, the back above it."""
    last = len(depths) - 1
    along = [_middle_mm(outline, place) for place in range(last + 1)]
    back = ((along[last], board_mm + depths[-1]), (along[0], board_mm + depths[0]))
    parts: list[Part] = [Curve(((along[0], board_mm), (along[last], board_mm), *back), closed=True)]
    parts.append(Words((along[0] + 14.0, board_mm - 2.6), tr("from the side: board at this edge"), 2.4))
    return parts + [
        Line((along[place], board_mm), (along[place], board_mm + depths[place]), "aid")
        for place in range(1, last + 1)
    ]


def _gauges(
    service: Service, outline: Outline, depths: Sequence[float], heel: int, asked: Mapping[str, Any]
) -> list[Part]:
    """Return a gauge for the first fret and one for the heel's, below the board."""
    joint, own_unit = len(depths) - 1, asked["own_unit"]
    below = -_half_width(outline, joint) - BETWEEN_MM
    parts: list[Part] = []
    x = 40.0
    for place in (1, heel):
        half = _half_width(outline, place)
        shape = section(half, depths[place], _radius_mm(service, outline, place), asked["shoulder"])
        parts += _gauge(
            tr(
                "fret {place}: {half} wide, {depths} deep",
                place=place,
                half=figure_in(2 * half, own_unit, decimals=1),
                depths=figure_in(depths[place], own_unit, decimals=1),
            ),
            shape,
            (x, below),
        )
        x += 2.0 * half + 2.0 * BODY_MM + 20.0
    return parts


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    outline = outline_of(service, asked["edge"], int(asked["square_fret"]))
    instrument = outline.board.instrument
    joint, heel = instrument.joint_fret, min(12, instrument.joint_fret)
    first_mm, heel_mm = asked["depth_first"], asked["depth_heel"]
    depths = [_depth(outline, first_mm, heel_mm, place, heel) for place in range(joint + 1)]
    rows = tuple(
        (str(place) if place else "nut", f"{2 * _half_width(outline, place):.2f}", f"{depth:.2f}")
        for place, depth in enumerate(depths)
    )
    parts = _from_above(outline, joint)
    parts += _from_the_side(outline, depths, _half_width(outline, joint) + 16.0)
    parts += _gauges(service, outline, depths, heel, asked)
    told = (
        tr(
            "Depth {first_mm:g} mm at the first fret and {heel_mm:g} mm at fret {heel}, from the "
            "board's crest to the back, in a straight line between; the heel is yours.",
            first_mm=first_mm,
            heel_mm=heel_mm,
            heel=heel,
        ),
        tr("The gauges slip over the neck from behind: touching all round, the neck is as drawn."),
        tr("Width is from edge to edge of the board; with a lacquer, leave its thickness off."),
    )
    figures = Figures(("fret", "width, mm", "depth, mm"), rows)
    return Drawing(tr("Neck depth and taper"), instrument.name, told, tuple(parts), (figures,))


KIND = TemplateKind(
    name="neck-depth",
    words=mark("neck depth and taper"),
    told=mark("the neck from above and from the side, and gauges of its section at the first fret and toward the heel"),
    draw=_draw,
    options=(
        Option("depth_first", mark("depth at the first fret, mm"), "length", 21.0, 8.0, 60.0),
        Option("depth_heel", mark("depth at the 12th fret or the joint, mm"), "length", 23.0, 8.0, 60.0),
        Option("shoulder", mark("shape of the back: 2 is a half ellipse, 3 full shoulders"), "ratio", 2.3, 1.5, 4.0),
        Option("edge", mark("from an outer string to the edge of the board, mm"), "length", 3.0, 0.0, 20.0),
        Option("square_fret", mark("the fret that stands square, where strings have scales of their own"), "count",
               SQUARE_FRET, 0, 36),
    ),
)  # fmt: skip
