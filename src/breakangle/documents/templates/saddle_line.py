"""Saddle line: where the scale ends, and each string's compensated point behind it."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from breakangle.documents.true_size.compensation import compensation_of
from breakangle.documents.true_size.geometry import Drawing, Figures, Line, Part, Words, columns_of, cross
from breakangle.documents.true_size.kinds import Option, TemplateKind, figure_in
from breakangle.documents.true_size.outline import SQUARE_FRET, Outline, outline_of
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr

ARM_MM, BEYOND_MM = 2.5, 14.0
LABEL_TALL_MM, LABEL_WIDE_MM = 3.0, 15.0  # a string's number and setback, with white around


def _points(outline: Outline, setback: Any) -> list[tuple[float, float]]:
    saddle = outline.board.fret_count + 1
    ends = [outline.point_mm(string, saddle) for string in range(outline.board.string_count)]
    return [(x + float(back), y) for (x, y), back in zip(ends, setback, strict=True)]


def _slot(points: list[tuple[float, float]], edge_mm: float, width_mm: float) -> tuple[list[Part], float]:
    """Return the straight saddle that lies nearest all points, and how far the farthest point is off it, in mm."""
    x, y = np.array([p[0] for p in points]), np.array([p[1] for p in points])
    lean, start = np.polyfit(y, x, 1) if len(points) > 1 else (0.0, float(x[0]))
    low, high = float(y.min()) - edge_mm, float(y.max()) + edge_mm
    parts: list[Part] = [
        Line((start + lean * low + way, low), (start + lean * high + way, high), "cut")
        for way in (-width_mm / 2.0, width_mm / 2.0)
    ]
    for end in (low, high):
        middle = start + lean * end
        parts.append(Line((middle - width_mm / 2.0, end), (middle + width_mm / 2.0, end), "cut"))
    return parts, float(np.max(np.abs(x - start - lean * y)))


def _marks(outline: Outline, points: list[tuple[float, float]], setback: Any, own_unit: str) -> list[Part]:
    """Return each string's line over the saddle, its cross, and how far that is behind the end of the scale."""
    last = outline.board.fret_count + 1
    parts: list[Part] = []
    columns = columns_of([y for _, y in points], LABEL_TALL_MM)
    for string, (x, y) in enumerate(points):
        end_x, end_y = outline.point_mm(string, last)
        number = outline.board.instrument.in_order()[string].string
        parts += [Line((end_x - BEYOND_MM, end_y), (x + BEYOND_MM, y), "aid"), *cross((x, y), ARM_MM)]
        label_x = x + BEYOND_MM + 2.5 + columns[string] * LABEL_WIDE_MM
        parts.append(
            Words((label_x, y - 0.8), f"{number}: {figure_in(setback[string], own_unit, signed=True)}", 2.4)
        )
    return parts


def _rows(
    outline: Outline, points: list[tuple[float, float]], setback: Any, spread: Any
) -> tuple[tuple[str, ...], ...]:
    board, rows = outline.board, []
    for string, (x, _) in reversed(list(enumerate(points))):  # from the low string to the high one
        one = board.instrument.in_order()[string]
        octave = min(int(board.first[string]) + 12, board.fret_count)
        to_octave = tr("{x:.2f} (fret {octave})", x=x - outline.point_mm(string, octave)[0], octave=octave)
        wide = f"± {spread[string]:.2f}"
        rows.append((str(one.string), one.note, f"{setback[string]:.2f}", wide, to_octave))
    return tuple(rows)


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    outline = outline_of(service, asked["edge"], int(asked["square_fret"]))
    board, found = outline.board, compensation_of(service)
    together = asked["nut"] == "moved"
    setback = found.saddle_mm if together else found.plain_saddle_mm
    points = _points(outline, setback)
    end = outline.fret(board.fret_count + 1, 4.0)
    x, y = end.start_mm
    slot, off = _slot(points, asked["edge"], asked["saddle_width"])
    low = min(x for x, _ in points) - 40.0
    middle = Line((low, 0.0), (min(x for x, _ in points) + BEYOND_MM, 0.0), "aid")
    parts: list[Part] = [end, Words((x, y - 1.0), tr("end of the scale"), 2.4, "right", turned=True)]
    parts += [*_marks(outline, points, setback, asked["own_unit"]), *slot, middle]
    parts.append(Words((low - 1.5, -0.8), tr("toward the nut"), 2.4, "right"))
    told = (
        tr("A cross marks where each string should leave the saddle; the dashed line is the centre line."),
        tr(
            "The outline is the straight saddle of {saddle_width:g} mm that lies nearest all "
            "crosses; the farthest cross is {off:.2f} mm off its middle.",
            saddle_width=asked["saddle_width"],
            off=off,
        ),
        tr(
            "Set out from the frets, not from this sheet's edge: lay the end of the scale at its distance from fret 12."
        ),
        tr(
            "± is one standard uncertainty of what the tables know of these strings: leave room to move, trust "
            "your ear."
        ),
    )
    head = (
        tr("string"),
        tr("note"),
        tr("back from the scale's end, mm"),
        "±, mm",
        tr("from the octave's crown, mm"),
    )
    note = tr("For the moved nut, not a plain one.") if together else tr("For a nut where it was.")
    figures = Figures(head, _rows(outline, points, setback, found.spread_mm), note)
    return Drawing(tr("Saddle line"), board.instrument.name, told, tuple(parts), (figures,))


KIND = TemplateKind(
    name="saddle-line",
    words=mark("saddle line"),
    told=mark("the end of the scale, each string's compensated point, and the straight saddle nearest to them"),
    draw=_draw,
    options=(
        Option("nut", mark("the nut it goes with: where it was, or moved"), "choice",
        "plain", choices=("plain", "moved")),
        Option("saddle_width", mark("width of the saddle, mm"), "length", 3.0, 1.0, 12.0),
        Option("edge", mark("from an outer string to the end of the saddle, mm"), "length", 6.0, 0.0, 30.0),
        Option("square_fret", mark("the fret that stands square, where strings have scales of their own"), "count",
               SQUARE_FRET, 0, 36),
    ),
)  # fmt: skip
