"""A drawing at true size as plain data: lines, arcs, circles, curves and words, in mm.

`x` runs along the neck, away from the nut; `y` across it, treble positive, up. Angles are anticlockwise from `x`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, cos, radians, sin, tan
from typing import Literal

Point = tuple[float, float]
Role = Literal["mark", "cut", "aid"]
Side = Literal["left", "middle", "right"]
WIDEST_STEP_DEGREES = (
    22.5  # a cubic over this angle strays from its arc by less than 1e-7 of the radius [derived]
)


@dataclass(frozen=True)
class Line:
    """A straight line. Roles: `mark` is worked to, `cut` is an outline, `aid` only guides the eye."""

    start_mm: Point
    end_mm: Point
    role: Role = "mark"


@dataclass(frozen=True)
class Arc:
    """Part of a circle, from one angle on anticlockwise to the other."""

    centre_mm: Point
    radius_mm: float
    start_degrees: float
    end_degrees: float
    role: Role = "mark"

    def at_mm(self, angle_degrees: float) -> Point:
        """Return the point at an angle."""
        angle = radians(angle_degrees)
        x, y = self.centre_mm
        return x + self.radius_mm * cos(angle), y + self.radius_mm * sin(angle)


@dataclass(frozen=True)
class Circle:
    """A whole circle."""

    centre_mm: Point
    radius_mm: float
    role: Role = "mark"


@dataclass(frozen=True)
class Curve:
    """Straight pieces from point to point; `closed` back to the first."""

    points_mm: tuple[Point, ...]
    closed: bool = False
    role: Role = "cut"


@dataclass(frozen=True)
class Words:
    """A line of words; `at_mm` is on its base line, `turned` lays it along the drawing's y."""

    at_mm: Point
    text: str
    size_mm: float = 2.6
    side: Side = "left"
    turned: bool = False


Part = Line | Arc | Circle | Curve | Words


@dataclass(frozen=True)
class Figures:
    """The numbers of a drawing, as a table: the figures a maker checks with a rule."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    told: str = ""


@dataclass(frozen=True)
class Drawing:
    """One template: what it is called, how it is used, its parts in mm, and its numbers."""

    title: str
    subject: str
    told: tuple[str, ...]
    parts: tuple[Part, ...]
    figures: tuple[Figures, ...] = ()

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Return the least x, least y, greatest x, greatest y of everything drawn, in mm."""
        points = [point for part in self.parts for point in extent_mm(part)]
        across, up = [x for x, _ in points], [y for _, y in points]
        return min(across), min(up), max(across), max(up)


def extent_mm(part: Part) -> Iterator[Point]:
    """Yield points between which the part lies, in mm; of words, roughly."""
    if isinstance(part, Line):
        yield from (part.start_mm, part.end_mm)
    elif isinstance(part, Curve):
        yield from part.points_mm
    elif isinstance(part, Circle):
        x, y = part.centre_mm
        yield from ((x - part.radius_mm, y - part.radius_mm), (x + part.radius_mm, y + part.radius_mm))
    elif isinstance(part, Arc):
        yield part.at_mm(part.start_degrees)
        yield part.at_mm(part.end_degrees)
        quarters = range(ceil(part.start_degrees / 90.0), int(part.end_degrees // 90.0) + 1)
        yield from (part.at_mm(90.0 * quarter) for quarter in quarters)
    else:
        yield from _words_extent_mm(part)


def words_width_mm(words: Words) -> float:
    """Return about how long the words are, in mm: generous, so that nothing is printed over."""
    return 0.56 * words.size_mm * len(words.text)


def columns_of(places_mm: Sequence[float], tall_mm: float) -> list[int]:
    """Return for words at these places, in their order, the column (0, 1, …) where none is printed over another."""
    found: dict[int, int] = {}
    last: list[float] = []
    for at in sorted(range(len(places_mm)), key=lambda one: places_mm[one]):
        free = (column for column, low in enumerate(last) if places_mm[at] - low >= tall_mm)
        found[at] = next(free, len(last))
        last[found[at] : found[at] + 1] = [places_mm[at]]
    return [found[at] for at in range(len(places_mm))]


def _words_extent_mm(words: Words) -> Iterator[Point]:
    before = {"left": 0.0, "middle": 0.5, "right": 1.0}[words.side] * words_width_mm(words)
    after = words_width_mm(words) - before
    x, y = words.at_mm
    for along in (-before, after):
        for up in (-0.25 * words.size_mm, 0.8 * words.size_mm):
            yield (x - up, y + along) if words.turned else (x + along, y + up)


def arc_cubics(arc: Arc | Circle) -> tuple[Point, ...]:
    """Return an arc as cubic curves: a first point, then three points for each piece, in mm."""
    whole = isinstance(arc, Circle)
    start, end = (0.0, 360.0) if isinstance(arc, Circle) else (arc.start_degrees, arc.end_degrees)
    round_mm = Arc(arc.centre_mm, arc.radius_mm, start, end) if whole else arc
    assert isinstance(round_mm, Arc)
    pieces = max(1, ceil((end - start) / WIDEST_STEP_DEGREES))
    step = (end - start) / pieces
    reach = 4.0 / 3.0 * tan(radians(step) / 4.0) * arc.radius_mm
    points = [round_mm.at_mm(start)]
    for piece in range(pieces):
        first, last = start + piece * step, start + (piece + 1) * step
        (x0, y0), (x1, y1) = round_mm.at_mm(first), round_mm.at_mm(last)
        points.append((x0 - reach * sin(radians(first)), y0 + reach * cos(radians(first))))
        points.append((x1 + reach * sin(radians(last)), y1 - reach * cos(radians(last))))
        points.append((x1, y1))
    return tuple(points)


def box(x_mm: float, y_mm: float, width_mm: float, height_mm: float, role: Role = "cut") -> Curve:
    """Return a rectangle by its corner of least x and y."""
    right, top = x_mm + width_mm, y_mm + height_mm
    return Curve(((x_mm, y_mm), (right, y_mm), (right, top), (x_mm, top)), closed=True, role=role)


def cross(at_mm: Point, arm_mm: float, role: Role = "mark") -> tuple[Line, Line]:
    """Return two lines crossing at a point."""
    x, y = at_mm
    return Line((x - arm_mm, y), (x + arm_mm, y), role), Line((x, y - arm_mm), (x, y + arm_mm), role)
