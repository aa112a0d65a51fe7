"""A drawing laid over pages: which part lies on which page, where the pages join, what each page is called."""

from dataclasses import dataclass
from math import ceil

from breakangle.documents.true_size.geometry import Drawing, Point
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

WIDEST_MM = 186.0  # what A4 and Letter, and every printer for them, have room for
ABOVE_MM, BELOW_MM = 23.0, 22.0  # the head of a page, and the bar below
OVERLAP_MM = 12.0
REGISTER_MM = 6.0  # of a register mark from the drawing's side
TOP_MM = 4.0  # of white above a drawing that fills no page
MOST_PAGES = 60


@dataclass(frozen=True)
class Paper:
    """A size of paper, upright."""

    name: str
    words: str
    width_mm: float
    height_mm: float

    @property
    def window_mm(self) -> tuple[float, float]:
        """Return width and height of the part of a page that a drawing may use, in mm."""
        return WIDEST_MM, self.height_mm - ABOVE_MM - BELOW_MM


PAPERS = {
    "a4": Paper("a4", "A4", 210.0, 297.0),  # ISO 216
    "letter": Paper("letter", "Letter", 215.9, 279.4),  # ANSI/ASME Y14.1: 8.5 by 11 inches
}


def paper_named(name: str) -> Paper:
    """Return a size of paper by its name.

    Raises:
        CorrectInputError: neither A4 nor Letter.
    """
    if name not in PAPERS:
        raise CorrectInputError(
            tr('"{name}" is no paper for this', name=name),
            tr("one of {papers}", papers=", ".join(PAPERS)),
            tr("choose one"),
        )
    return PAPERS[name]


@dataclass(frozen=True)
class Tile:
    """One page of a drawing: `corner_mm` is the drawing's place (across, down) at the window's upper left."""

    row: int
    column: int
    name: str
    corner_mm: Point


@dataclass(frozen=True)
class Tiling:
    """A drawing over pages. Turned, its x runs down the paper and its y across; else x across and y up.

    `marks_mm`: register marks in (across, down) of the whole. `joins_mm`: where pages are cut, down and across.
    """

    paper: Paper
    turned: bool
    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    marks_mm: tuple[Point, ...]
    joins_down_mm: tuple[float, ...]
    joins_across_mm: tuple[float, ...]

    def place_mm(self, point: Point) -> Point:
        """Return where a point of the drawing is in (across, down) of the whole, in mm: turned, never mirrored."""
        x, y = point
        return (y, x) if self.turned else (x, -y)


def tiling_of(drawing: Drawing, on: Paper) -> Tiling:
    """Return the drawing over as few pages as it needs.

    Raises:
        CorrectInputError: more pages than anybody joins.
    """
    left, low, right, high = drawing.bounds_mm
    upright = (left, -high, right, -low)
    sideways = (low, left, high, right)
    counts = [_counts(box, on) for box in (upright, sideways)]
    fewer = counts[1][0] * counts[1][1] - counts[0][0] * counts[0][1]
    turned = fewer < 0 or (fewer == 0 and counts[0][1] > 1)
    box, (rows, columns) = (sideways, counts[1]) if turned else (upright, counts[0])
    if rows * columns > MOST_PAGES:
        raise CorrectInputError(
            tr(
                "{drawing_title} would take {rows} pages",
                drawing_title=drawing.title.lower(),
                rows=rows * columns,
            ),
            tr("{most_pages} at most", most_pages=MOST_PAGES),
            tr("take SVG or DXF"),
        )
    wide, tall = on.window_mm
    first_across = (box[0] + box[2]) / 2.0 - ((columns - 1) * (wide - OVERLAP_MM) + wide) / 2.0
    first_down = box[1] if rows > 1 else box[1] - min(TOP_MM, (tall - (box[3] - box[1])) / 2.0)
    across = [first_across + column * (wide - OVERLAP_MM) for column in range(columns)]
    down = [first_down + row * (tall - OVERLAP_MM) for row in range(rows)]
    tiles = tuple(
        Tile(row, column, _name(row, column, columns), (across[column], down[row]))
        for row in range(rows)
        for column in range(columns)
    )
    joins_down = tuple(one + OVERLAP_MM / 2.0 for one in down[1:])
    joins_across = tuple(one + OVERLAP_MM / 2.0 for one in across[1:])
    marks = _marks(across, down, joins_across, joins_down, on)
    return Tiling(on, turned, rows, columns, tiles, marks, joins_down, joins_across)


def _counts(box: tuple[float, float, float, float], on: Paper) -> tuple[int, int]:
    """Return how many rows and columns of pages a box needs."""
    wide, tall = on.window_mm
    return _count(box[3] - box[1], tall), _count(box[2] - box[0], wide)


def _count(size_mm: float, window_mm: float) -> int:
    if size_mm <= window_mm:
        return 1
    return ceil((size_mm - window_mm) / (window_mm - OVERLAP_MM) - 1e-9) + 1


def _name(row: int, column: int, columns: int) -> str:
    letter = chr(ord("A") + row % 26) * (1 + row // 26)
    return letter if columns == 1 else f"{letter}{column + 1}"


def _marks(
    across: list[float],
    down: list[float],
    joins_across: tuple[float, ...],
    joins_down: tuple[float, ...],
    on: Paper,
) -> tuple[Point, ...]:
    """Return the register marks: two on each join of two pages, both on either page."""
    wide, tall = on.window_mm
    found = {
        (start + side, join)
        for start in across
        for join in joins_down
        for side in (REGISTER_MM, wide - REGISTER_MM)
    }
    found |= {
        (join, start + side)
        for start in down
        for join in joins_across
        for side in (REGISTER_MM, tall - REGISTER_MM)
    }
    return tuple(sorted(found))


def on_page(tiling: Tiling, tile: Tile, low: Point, high: Point) -> bool:
    """Return whether anything between two corners of the whole shows on a page."""
    wide, tall = tiling.paper.window_mm
    x, y = tile.corner_mm
    return low[0] <= x + wide and high[0] >= x and low[1] <= y + tall and high[1] >= y
