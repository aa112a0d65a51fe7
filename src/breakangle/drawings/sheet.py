"""A sheet to draw on: collects elements, keeps count of where texts stand, and closes as SVG."""

import json
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from typing import Any

from markupsafe import escape

from breakangle.drawings.ink import PAPER_FACES, attributes, text_attributes
from breakangle.drawings.look import Drawing, Look, Table, TextBox
from breakangle.drawings.text_width import text_width

Point = tuple[float, float]
ASCENT_RATIO, DESCENT_RATIO = 0.78, 0.24
MIDDLE_RATIO = 0.36
"""From a text's base line up to the middle of its figures, and how far it reaches up and down, per size."""

_UNWANTED = "\ufffe\uffff\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


def number(value: float) -> str:
    """Return a coordinate to a tenth, as short as it can be written."""
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def legible(text: str) -> str:
    """Return `text` without what no XML may hold, or what turns the writing of everything after it."""
    return _legible(str(text))  # as it is said, in the language spoken


@lru_cache(maxsize=4096)  # most words of a drawing are there again in the next
def _legible(text: str) -> str:
    kept = (one for one in text if unicodedata.category(one) not in ("Cc", "Cs") or one.isspace())
    return " ".join("".join(one for one in kept if one not in _UNWANTED).split())


class Sheet:
    """One drawing in the making; y grows downward, the height is set when it closes."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.boxes: list[TextBox] = []
        self._parts: list[str] = []
        self._lettering: tuple[str, str, float] | None = None

    @contextmanager
    def lettering(self, ink: str, anchor: str, size: float) -> Iterator[None]:
        """Write what follows in one kind of text, said once; other kinds in between are said as ever."""
        side = "" if anchor == "start" else f' text-anchor="{anchor}"'
        said = text_attributes(ink, self.look.variant)
        self._parts.append(f'<g {said} font-size="{size:g}"{side}>')
        self._lettering = (ink, anchor, size)
        yield
        self._lettering = None
        self._parts.append("</g>")

    @contextmanager
    def group(self, ink: str) -> Iterator[None]:
        """Draw what follows with the attributes of `ink`, said once."""
        self._parts.append(f"<g {attributes(ink, self.look.variant)}>")
        yield
        self._parts.append("</g>")

    def path(self, data: str, ink: str = "") -> None:
        """Draw a path; without an ink it takes that of the group around it."""
        said = f" {attributes(ink, self.look.variant)}" if ink else ""
        self._parts.append(f'<path{said} d="{data}"/>')

    def line(self, start: Point, end: Point, ink: str = "") -> None:
        """Draw a straight line."""
        self.path(polyline([start, end]), ink)

    def rect(self, left: float, top: float, width: float, height: float, ink: str = "") -> None:
        """Draw a rectangle."""
        said = f" {attributes(ink, self.look.variant)}" if ink else ""
        place = f'x="{number(left)}" y="{number(top)}"'
        size = f'width="{number(max(width, 0.0))}" height="{number(max(height, 0.0))}"'
        self._parts.append(f"<rect{said} {place} {size}/>")

    def circle(self, at: Point, radius: float, ink: str = "") -> None:
        """Draw a circle."""
        said = f" {attributes(ink, self.look.variant)}" if ink else ""
        self._parts.append(f'<circle{said} cx="{number(at[0])}" cy="{number(at[1])}" r="{number(radius)}"/>')

    def text(
        self, at: Point, text: str, ink: str = "text", anchor: str = "start", size: float | None = None
    ) -> None:
        """Write `text` with its base line at `at`, as `text`: it is escaped here and nowhere else."""
        written = legible(text)
        if not written:
            return
        size = self.look.text if size is None else size
        self.boxes.append(_box(written, at, anchor, size, ink == "strong"))
        where = f'x="{number(at[0])}" y="{number(at[1])}"'
        if self._lettering == (ink, anchor, size):
            self._parts.append(f"<text {where}>{escape(written)}</text>")
            return
        side = "" if anchor == "start" else f' text-anchor="{anchor}"'
        said = text_attributes(ink, self.look.variant)
        self._parts.append(f'<text {said} {where} font-size="{size:g}"{side}>{escape(written)}</text>')

    def close(
        self,
        height: float,
        title: str,
        description: str,
        table: Table,
        points: Sequence[dict[str, Any]] = (),
    ) -> Drawing:
        """Return the drawing, with `points` for a reading by pointer or key where there are any."""
        title, description = legible(title), legible(description)
        page = self.look.variant == "web"
        size = f"{number(self.look.width)} {number(height)}"
        faces = "" if page else f' font-family="{PAPER_FACES}"'
        said = f'class="drawing" role="img"{faces}' if page else f'role="img"{faces}'
        data = json.dumps(list(points), ensure_ascii=True, separators=(",", ":"))
        told = f' data-points="{escape(data)}"' if points else ""
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" {said}{told}'
            f' width="{number(self.look.width)}" height="{number(height)}">'
            f"<title>{escape(title)}</title><desc>{escape(description)}</desc>"
        )
        svg = "".join([head, *self._parts, "</svg>"])
        return Drawing(svg, title, description, table, self.look.width, height, tuple(self.boxes))


def _box(text: str, at: Point, anchor: str, size: float, strong: bool) -> TextBox:
    width = text_width(text, size, strong)
    left = at[0] - {"start": 0.0, "middle": width / 2.0, "end": width}[anchor]
    return TextBox(text, left, at[1] - ASCENT_RATIO * size, left + width, at[1] + DESCENT_RATIO * size)


def polyline(points: Sequence[Point], closed: bool = False) -> str:
    """Return the path through `points`."""
    # Each has one decimal, so ".0" is always the whole of it: shortened all at once, as `number` does each.
    body = "L".join([f"{x:.1f} {y:.1f}" for x, y in points]).replace(".0", "")
    return f"M{body}{'Z' if closed else ''}"


def arrow_head(tip: Point, toward: Point, size: float) -> str:
    """Return the path of a filled head whose tip is at `tip`, pointing along `toward` (a unit vector)."""
    (x, y), (dx, dy) = tip, toward
    base = (x - dx * size, y - dy * size)
    half = 0.42 * size
    return polyline(
        [tip, (base[0] - dy * half, base[1] + dx * half), (base[0] + dy * half, base[1] - dx * half)], True
    )
