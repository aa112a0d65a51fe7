"""A drawing as a PDF at true size: over pages with register marks, a map, and bars of 100 mm to measure."""

from math import ceil
from typing import Any

from breakangle.documents.renderers.typesetting import shown_or_dash, typeset
from breakangle.documents.true_size.geometry import (
    Arc,
    Circle,
    Curve,
    Drawing,
    Line,
    Part,
    Point,
    Words,
    arc_cubics,
    extent_mm,
)
from breakangle.documents.true_size.tiling import (
    ABOVE_MM,
    BELOW_MM,
    WIDEST_MM,
    Paper,
    Tile,
    Tiling,
    on_page,
    tiling_of,
)
from breakangle.model.words.speech import mark, tr

MARK_ARM_MM, MARK_RADIUS_MM = 4.0, 1.6
MAP_CELL_MM = 4.7
LINE_MM, LINE_SIGNS, GAP_MM = (
    4.9,
    115,
    8.0,
)  # of the words under a drawing: height, signs on a line, white above
SCALE_WORDS = mark("True size. Print at 100 % (“actual size”), never “fit to page”.")


def template_pdf(drawing: Drawing, on: Paper) -> bytes:
    """Return the drawing at true size as a tagged PDF, over as many pages as it needs.

    Raises:
        CorrectInputError: more pages than anybody joins.
        InstallError: the typesetter is not installed.
    """
    return typeset("template", template_data(drawing, on))


def template_data(drawing: Drawing, on: Paper) -> dict[str, Any]:
    """Return what the setting needs, every length in mm from the upper left corner of its window."""
    tiling = tiling_of(drawing, on)
    below = _below_mm(drawing, tiling)
    return {
        "title": f"{drawing.title}: {shown_or_dash(drawing.subject)}",
        "author": tr("Breakangle"),
        "heading": drawing.title,
        "subject": shown_or_dash(drawing.subject),
        "scale_words": tr(SCALE_WORDS),
        "width": on.width_mm,
        "height": on.height_mm,
        "left": (on.width_mm - WIDEST_MM) / 2.0,
        "above": ABOVE_MM,
        "window": on.window_mm,
        "map_width": tiling.columns * MAP_CELL_MM,
        "pages": [_page(drawing, tiling, tile) for tile in tiling.tiles],
        "below": below,
        "told": list(drawing.told),
        "tables": [
            {"head": figure.head, "rows": figure.rows, "told": figure.told} for figure in drawing.figures
        ],
    }


def _below_mm(drawing: Drawing, tiling: Tiling) -> float | None:
    """Return where use and numbers begin under a small drawing, in mm down the page; None: on a page of their own."""
    if len(tiling.tiles) > 1:
        return None
    left, low, right, high = drawing.bounds_mm
    lowest = max(tiling.place_mm(one)[1] for one in ((left, low), (left, high), (right, low), (right, high)))
    start = ABOVE_MM + lowest - tiling.tiles[0].corner_mm[1] + GAP_MM
    lines = sum(ceil(len(one) / LINE_SIGNS) for one in drawing.told)
    needed = LINE_MM * (lines + sum(len(figure.rows) + 3 for figure in drawing.figures)) + GAP_MM
    return start if start + needed <= tiling.paper.height_mm - BELOW_MM else None


def _page(drawing: Drawing, tiling: Tiling, tile: Tile) -> dict[str, Any]:
    segments: list[Any] = []
    paths: list[Any] = []
    words: list[Any] = []
    for part in drawing.parts:
        if _shows(part, tiling, tile):
            _put(part, tiling, tile, segments, paths, words)
    for place in tiling.marks_mm:
        _register(place, tiling, tile, segments, paths)
    segments += _joins(tiling, tile)
    alone = len(tiling.tiles) == 1
    where = (
        ""
        if alone
        else tr(", page {tile_name} of {tiles_count}", tile_name=tile.name, tiles_count=len(tiling.tiles))
    )
    return {
        "name": tile.name,
        "row": tile.row,
        "column": tile.column,
        "segments": segments,
        "paths": paths,
        "words": words,
        "alt": tr(
            "{drawing_title} of {subject} at true size{where}. {told}",
            drawing_title=drawing.title,
            subject=drawing.subject,
            where=where,
            told=drawing.told[0] if drawing.told else "",
        ),
        "join_words": "" if alone else _join_words(tiling, tile),
    }


def _join_words(tiling: Tiling, tile: Tile) -> str:
    beside = [
        other.name
        for other in tiling.tiles
        if abs(other.row - tile.row) + abs(other.column - tile.column) == 1
    ]
    return tr(
        "Joins {beside}: cut one page on the dotted line, lay the crossed circles over each other.",
        beside=tr(" and ").join(beside),
    )


def _shows(part: Part, tiling: Tiling, tile: Tile) -> bool:
    points = [tiling.place_mm(one) for one in extent_mm(part)]
    low = min(x for x, _ in points), min(y for _, y in points)
    high = max(x for x, _ in points), max(y for _, y in points)
    return on_page(tiling, tile, low, high)


def _put(
    part: Part, tiling: Tiling, tile: Tile, segments: list[Any], paths: list[Any], words: list[Any]
) -> None:
    if isinstance(part, Line):
        (x0, y0), (x1, y1) = (_local(tiling, tile, one) for one in (part.start_mm, part.end_mm))
        segments.append((x0, y0, x1, y1, part.role))
    elif isinstance(part, Words):
        x, y = _local(tiling, tile, part.at_mm)
        # Down the turned page is along the drawing: words that lay along x then stand, and those along y lie.
        standing = 90 if tiling.turned else -90
        angle = 0 if part.turned == tiling.turned else standing
        words.append(
            {"x": x, "y": y, "text": part.text, "size": part.size_mm, "side": part.side, "angle": angle}
        )
    else:
        cubic = isinstance(part, Arc | Circle)
        points = arc_cubics(part) if isinstance(part, Arc | Circle) else part.points_mm
        local = [_local(tiling, tile, point) for point in points]
        closed = isinstance(part, Circle) or (isinstance(part, Curve) and part.closed)
        paths.append({"points": local, "cubic": cubic, "closed": closed, "role": part.role})


def _local(tiling: Tiling, tile: Tile, point: Point) -> Point:
    across, down = tiling.place_mm(point)
    return across - tile.corner_mm[0], down - tile.corner_mm[1]


def _register(mark: Point, tiling: Tiling, tile: Tile, segments: list[Any], paths: list[Any]) -> None:
    """Put a crossed circle where pages join, if it lies on this page."""
    x, y = mark[0] - tile.corner_mm[0], mark[1] - tile.corner_mm[1]
    wide, tall = tiling.paper.window_mm
    if not (MARK_ARM_MM <= x <= wide - MARK_ARM_MM and MARK_ARM_MM <= y <= tall - MARK_ARM_MM):
        return
    segments += [
        (x - MARK_ARM_MM, y, x + MARK_ARM_MM, y, "mark"),
        (x, y - MARK_ARM_MM, x, y + MARK_ARM_MM, "mark"),
    ]
    points = arc_cubics(Circle((x, y), MARK_RADIUS_MM))
    paths.append({"points": points, "cubic": True, "closed": True, "role": "mark"})


def _joins(tiling: Tiling, tile: Tile) -> list[Any]:
    wide, tall = tiling.paper.window_mm
    down = [one - tile.corner_mm[1] for one in tiling.joins_down_mm]
    across = [one - tile.corner_mm[0] for one in tiling.joins_across_mm]
    found: list[Any] = [(0.0, y, wide, y, "join") for y in down if 0.0 < y < tall]
    return found + [(x, 0.0, x, tall, "join") for x in across if 0.0 < x < wide]
