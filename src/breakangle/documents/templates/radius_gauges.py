"""Board radius gauges: hollow ones that sit on a board, round ones that fit a block, of several radii."""

from collections.abc import Mapping
from math import asin, degrees, sqrt
from typing import Any

from breakangle.documents.true_size.geometry import Arc, Drawing, Line, Part, Point, Words
from breakangle.documents.true_size.kinds import Option, TemplateKind
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import ConicalRadius
from breakangle.model.measure import INCH_MM
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr

BODY_MM, BETWEEN_MM = 12.0, 9.0
USUAL_MM = (
    241.3,
    254.0,
    304.8,
    406.4,
)  # for a flat board: what blocks are sold in; common practice, no source
STEPS_OF_A_CONE = 4


def radii_of(service: Service) -> tuple[float, ...]:
    """Return the radii worth a gauge for the instrument, in mm: its own, or a cone's in four steps."""
    radius = service.instrument_now().board_radius_mm
    if radius is None:
        return USUAL_MM
    if isinstance(radius, ConicalRadius):
        step = (radius.at_last_fret - radius.at_nut) / (STEPS_OF_A_CONE - 1)
        return tuple(radius.at_nut + step * count for count in range(STEPS_OF_A_CONE))
    return (radius,)


def gauge(radius_mm: float, width_mm: float, at_mm: Point, round_out: bool) -> list[Part]:
    """Return one gauge with its arc toward positive y: round outward, or hollow, `width_mm` across along x.

    `at_mm` is the middle of its straight edge.
    """
    x, y = at_mm
    half = width_mm / 2.0
    deep = radius_mm - sqrt(radius_mm**2 - half**2)
    spread = degrees(asin(half / radius_mm))
    shoulder = y + BODY_MM
    if round_out:
        arc = Arc((x, shoulder + deep - radius_mm), radius_mm, 90.0 - spread, 90.0 + spread, "cut")
    else:
        arc = Arc((x, shoulder + radius_mm - deep), radius_mm, 270.0 - spread, 270.0 + spread, "cut")
    name = tr("round, for a block") if round_out else tr("hollow, for the board")
    return [
        arc,
        Line((x - half, y), (x + half, y), "cut"),
        Line((x - half, y), (x - half, shoulder), "cut"),
        Line((x + half, y), (x + half, shoulder), "cut"),
        Line((x, y), (x, y + 2.0), "aid"),
        Words((x, y + 6.4), f"{radius_mm:.1f} mm ({radius_mm / INCH_MM:.2f} in)", 2.6, "middle"),
        Words((x, y + 3.0), name, 2.2, "middle"),
    ]


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    radii = asked["radii"] or radii_of(service)
    width = asked["width"]
    if min(radii) < width:
        raise CorrectInputError(
            tr("a gauge {width:g} mm across for a radius of {radii:g} mm", width=width, radii=min(radii)),
            tr("at most as wide as the radius"),
            tr("make it narrower"),
        )
    parts: list[Part] = []
    y = 0.0
    for radius in radii:
        deep = radius - sqrt(radius**2 - (width / 2.0) ** 2)
        for x, round_out in ((0.0, False), (width + BETWEEN_MM, True)):
            parts += gauge(radius, width, (x, -y), round_out)
        y += BODY_MM + deep + BETWEEN_MM
    told: tuple[str, ...] = (
        tr("Stick the sheet to thin card or plastic, cut along the heavy line, and smooth the curve."),
        tr(
            "Hold a gauge across the strings' run, square to the centre line: light at its ends "
            "means a rounder board, light under its middle a flatter one."
        ),
    )
    if not asked["radii"] and service.instrument_now().board_radius_mm is None:
        told = (tr("This board is flat: these are the radii that blocks are sold in."), *told)
    return Drawing(tr("Board radius gauges"), service.instrument.name, told, tuple(parts))


KIND = TemplateKind(
    name="radius-gauges",
    words=mark("board radius gauges"),
    told=mark("a hollow and a round gauge for each radius: the instrument's own, or those you name"),
    draw=_draw,
    options=(
        Option("radii", mark("radii in mm or inches, such as 254; 12in (empty: the instrument's)"), "lengths", (), 50.0,
               5000.0),
        Option("width", mark("across a gauge, mm"), "length", 56.0, 20.0, 88.0),
    ),
)  # fmt: skip
