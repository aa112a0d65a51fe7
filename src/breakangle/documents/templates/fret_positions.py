"""Fret positions: one scale or a scale of each string, with the nut where it was or moved toward the bridge."""

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from breakangle.documents.true_size.compensation import Compensation, compensation_of
from breakangle.documents.true_size.geometry import Circle, Drawing, Figures, Line, Part, Words
from breakangle.documents.true_size.kinds import Option, TemplateKind, figure_in
from breakangle.documents.true_size.outline import SQUARE_FRET, Outline, outline_of
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr

OVER_MM = 2.0  # fret lines run on past the board's edge, so that they show beside a blank
BEYOND_MM = 5.0


def _fret_lines(outline: Outline, own_unit: str) -> list[Part]:
    parts: list[Part] = []
    for place in range(outline.board.fret_count + 1):
        line = outline.fret(place, OVER_MM)
        (x0, y0), (x1, y1) = line.start_mm, line.end_mm
        far = figure_in(_along(outline, place), own_unit) if place and not outline.fanned else ""
        parts += [
            line,
            Words((x0 + 0.9, y0 - 1.2), str(place) if place else "nut", turned=True, side="right"),
        ]
        if far:
            parts.append(Words((x1 + 0.9, y1 + 1.2), far, turned=True))
    return parts


def _along(outline: Outline, place: int) -> float:
    return float(outline.board.along_mm[outline.bass, place])


def _moved_nut(outline: Outline, found: Compensation, way: str, own_unit: str) -> list[Part]:
    """Return the moved nut: one line for all strings, or a short line for each."""
    parts: list[Part] = []
    strings = [s for s in range(outline.board.string_count) if outline.board.first[s] == 0]
    together = float(found.nut_mm[strings].mean())
    if way == "moved":
        nut = outline.fret(0, OVER_MM)
        start, end = ((x + together, y) for x, y in (nut.start_mm, nut.end_mm))
        parts.append(Line(start, end))
        x, y = nut.end_mm
        words = tr("nut moved {together}", together=figure_in(together, own_unit))
        return [*parts, Words((x + together + 3.4, y + 1.5), words, turned=True)]
    half, nut = _half_gap(outline), outline.fret(0)
    lean = (nut.end_mm[0] - nut.start_mm[0]) / (nut.end_mm[1] - nut.start_mm[1])
    for string in strings:
        x, y = outline.point_mm(string, 0)
        x += float(found.nut_mm[string])
        parts.append(Line((x - lean * half, y - half), (x + lean * half, y + half)))
    x, y = outline.fret(0, OVER_MM).end_mm
    return [*parts, Words((x + 3.4, y + 1.5), tr("nut stepped"), turned=True)]


def _half_gap(outline: Outline) -> float:
    side = sorted(float(one) for one in outline.board.sideways_mm[:, 0])
    return 0.45 * min((b - a for a, b in pairwise(side)), default=6.0)


def _table(outline: Outline, found: Compensation | None) -> tuple[Figures, ...]:
    board, lines = outline.board, []
    outer = [outline.bass, outline.treble] if outline.fanned else [outline.bass]
    for place in range(1, board.fret_count + 1):
        cells = [str(place)]
        for string in outer:
            along = board.along_mm[string]
            cells += [f"{along[place]:.3f}", f"{along[place] - along[place - 1]:.3f}"]
        lines.append(tuple(cells))
    names = (tr("bass side"), tr("treble side")) if outline.fanned else ("",)
    head = [tr("fret")]
    for name in names:
        head += [tr("{name} from the nut, mm", name=name).strip(), tr("from the fret before, mm")]
    told = tr("Nut to fret n is scale × (1 − 2^(−n/12)): twelve equal steps to the octave.")
    tables = [Figures(tuple(head), tuple(lines), told)]
    if found is not None:
        rows = tuple(
            (
                str(s + 1),
                board.instrument.in_order()[s].note,
                f"{found.nut_mm[s]:.2f}",
                f"{found.saddle_mm[s]:.2f}",
            )
            for s in reversed(range(board.string_count))
        )
        told = tr("A moved nut and its saddle go together: each is wrong with the other's plain place.")
        names_of = ("string", "note", tr("nut toward the bridge, mm"), tr("saddle away from the nut, mm"))
        tables.append(Figures(names_of, rows, told))
    return tuple(tables)


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    outline = outline_of(service, asked["edge"], int(asked["square_fret"]))
    board, last = outline.board, outline.board.fret_count
    found = compensation_of(service) if asked["nut"] != "plain" else None
    parts = _fret_lines(outline, asked["own_unit"])
    first, end = outline.fret(0), outline.fret(last)
    low = min(first.start_mm[0], first.end_mm[0]) - BEYOND_MM
    high = max(end.start_mm[0], end.end_mm[0]) + BEYOND_MM
    parts += [*outline.edges(0, last), Line((low, 0.0), (high, 0.0), "aid")]
    for string in range(board.string_count):
        start = int(board.first[string])
        parts.append(Line(outline.point_mm(string, start), outline.point_mm(string, last), "aid"))
        if start:
            parts.append(Circle(outline.point_mm(string, start), 1.5))
    if found is not None:
        parts += _moved_nut(outline, found, asked["nut"], asked["own_unit"])
    instrument = board.instrument
    scale = tr("scale {scale_mm:g} mm", scale_mm=instrument.scale_mm)
    if outline.fanned:
        scales = board.along_mm[[outline.bass, outline.treble], -1]
        scale = tr(
            "scales {scales:g} mm (bass) to {scales_2:g} mm (treble), fret {square_fret} square",
            scales=scales[0],
            scales_2=scales[1],
            square_fret=int(asked["square_fret"]),
        )
    told = [
        tr(
            "{last} frets, {scale}. Measured along the centre line (dashed) from the nut, never "
            "from fret to fret.",
            last=last,
            scale=scale,
        ),
        tr("Cut the frets with a knife line on the printed line; the number is at the bass side."),
    ]
    if any(board.first):
        told.append(tr("A small circle marks where a short string begins."))
    return Drawing(tr("Fret positions"), instrument.name, tuple(told), tuple(parts), _table(outline, found))


KIND = TemplateKind(
    name="fret-positions",
    words=mark("fret positions"),
    told=mark("every fret of the board, for one scale or a scale of each string, with the nut plain or moved"),
    draw=_draw,
    options=(
        Option("nut", mark("the nut: where it was, moved as one, or stepped for each string"), "choice", "plain",
               choices=("plain", "moved", "stepped")),
        Option("edge", mark("from an outer string to the edge of the board, mm"), "length", 3.0, 0.0, 20.0),
        Option("square_fret", mark("the fret that stands square, where strings have scales of their own"), "count",
               SQUARE_FRET, 0, 36),
    ),
)  # fmt: skip
