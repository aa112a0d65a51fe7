"""Nut slot spacing: equal gaps between the strings' edges, or equal distances between their middles."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from breakangle.documents.true_size.geometry import Drawing, Figures, Line, Part, Words, box, columns_of
from breakangle.documents.true_size.kinds import Option, TemplateKind
from breakangle.model.instrument import Instrument, String
from breakangle.model.service import Service
from breakangle.model.words.speech import capital, mark, tr
from breakangle.planning.state.board import COURSE_SPREAD_MM

STRIP_MM, BETWEEN_MM, COPIES = 9.0, 16.0, 3
NUMBER_MM = 2.8  # a string's number, with white around


def courses(instrument: Instrument) -> tuple[tuple[String, ...], ...]:
    """Return the strings that start at the nut, course by course from the bass side."""
    found: dict[int, list[String]] = {}
    for one in instrument.in_order():
        if one.nut_at_fret == 0:
            found.setdefault(one.course or one.string, []).append(one)
    return tuple(tuple(reversed(found[course])) for course in sorted(found, reverse=True))


def _width(course: Sequence[String]) -> float:
    """Return a course's width from outer edge to outer edge, in mm."""
    return COURSE_SPREAD_MM * (len(course) - 1) + (course[0].diameter_mm + course[-1].diameter_mm) / 2.0


def slot_places_mm(instrument: Instrument, spread_mm: float, spacing: str) -> dict[int, float]:
    """Return the middle of each string's slot from the middle of the nut in mm, bass negative, by string.

    `spread_mm` is from the middle of the first course to the middle of the last. With `gaps`, what lies between
    the edges of neighbouring courses is the same everywhere; with `centres`, the middles are evenly spread.
    """
    rows = courses(instrument)
    middles = [-spread_mm / 2.0]
    if len(rows) > 1:
        widths = [_width(row) for row in rows]
        between = spread_mm - sum(widths) + (widths[0] + widths[-1]) / 2.0
        gap = between / (len(rows) - 1)
        for before, width in pairwise(widths):
            even = spread_mm / (len(rows) - 1)
            middles.append(middles[-1] + (gap + (before + width) / 2.0 if spacing == "gaps" else even))
    else:
        middles = [0.0] * len(rows)
    places: dict[int, float] = {}
    for course, middle in zip(rows, middles, strict=True):
        left = middle - _width(course) / 2.0 + course[0].diameter_mm / 2.0
        for rank, one in enumerate(course):
            places[one.string] = left + rank * COURSE_SPREAD_MM
    return places


def _strip(instrument: Instrument, places: dict[int, float], across_mm: float, x_mm: float) -> list[Part]:
    """Return one strip to stick on the nut: its outline, each slot's two edges, and its middle beside it."""
    parts: list[Part] = [box(x_mm, -across_mm / 2.0, STRIP_MM, across_mm)]
    fitted = [one for one in instrument.in_order() if one.string in places]
    columns = columns_of([places[one.string] for one in fitted], NUMBER_MM)
    for one, column in zip(fitted, columns, strict=True):
        y, half = places[one.string], one.diameter_mm / 2.0
        parts += [Line((x_mm, y + way * half), (x_mm + STRIP_MM, y + way * half)) for way in (-1.0, 1.0)]
        parts.append(Line((x_mm - 2.5, y), (x_mm, y)))
        parts.append(Words((x_mm - 3.9 - 1.2 * NUMBER_MM * column, y - 0.8), str(one.string), 2.2, "middle"))
    return [*parts, Line((x_mm - 3.0, 0.0), (x_mm + STRIP_MM + 3.0, 0.0), "aid")]


ALONG_THE_NUT = mark("middle from the bass end, mm"), mark("gap before it, mm")


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    instrument = service.instrument_now()
    spread = asked["spread"] or instrument.spread_nut_mm
    places = slot_places_mm(instrument, spread, asked["spacing"])
    outer = [one for one in instrument.in_order() if one.string in places]
    half = max(abs(places[one.string]) + one.diameter_mm / 2.0 for one in outer)
    across = asked["width"] or 2.0 * (half + asked["edge"])
    parts = [
        part
        for copy in range(COPIES)
        for part in _strip(instrument, places, across, copy * (STRIP_MM + BETWEEN_MM))
    ]
    rows, before = [], None
    for number, one in sorted(((one.string, one) for one in outer), reverse=True):
        edges = places[number] - one.diameter_mm / 2.0, places[number] + one.diameter_mm / 2.0
        gap = "" if before is None else f"{edges[0] - before:.2f}"
        before = edges[1]
        rows.append(
            (str(number), one.note, f"{one.diameter_mm:.3f}", f"{places[number] + across / 2.0:.2f}", gap)
        )
    head = (tr("string"), tr("note"), tr("diameter, mm"), *(tr(one) for one in ALONG_THE_NUT))
    way = (
        tr("equal gaps between the strings' edges")
        if asked["spacing"] == "gaps"
        else tr("equal distances between middles")
    )
    between = mark("{way}; {spread:g} mm between the outer middles, nut {across:.1f} mm across.")
    told = (
        tr(between, way=capital(way), spread=spread, across=across),
        tr("Two lines are the string's own edges: file between them. Three strips, one to spoil."),
    )
    return Drawing(tr("Nut slot spacing"), instrument.name, told, tuple(parts), (Figures(head, tuple(rows)),))


KIND = TemplateKind(
    name="nut-slots",
    words=mark("nut slot spacing"),
    told=mark("strips to stick on the nut: every slot as wide as its string, with equal gaps or equal middles"),
    draw=_draw,
    options=(
        Option("spacing", mark("what is equal: the gaps between edges, or the distances of the middles"), "choice",
               "gaps", choices=("gaps", "centres")),
        Option("spread", mark("between the middles of the outer strings, mm (0: the instrument's)"), "length", 0.0, 0.0,
               150.0),
        Option("width", mark("width of the nut end to end, mm (0: from the next)"), "length", 0.0, 0.0, 170.0),
        Option("edge", mark("from an outer string's edge to the end of the nut, mm"), "length", 3.0, 0.5, 20.0),
    ),
)  # fmt: skip
