"""How a drawing is to look, and what comes back: the picture, its words, and its numbers as a table."""

from dataclasses import dataclass, field
from typing import Any, Literal

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

NARROWEST, WIDEST = 240.0, 4000.0
SMALLEST_TEXT, LARGEST_TEXT = 5.0, 40.0
NARROWEST_IN_TEXT = 20.0


@dataclass(frozen=True)
class Look:
    """How to draw. All sizes are in the drawing's own units: screen pixels, or points on paper.

    `web` drawings carry classes, and plain attributes in the text's own colour beneath them; `print` drawings
    carry literal attributes in black and greys. `even_frets` spaces the frets of a map alike.
    """

    width: float = 760.0
    text: float = 13.0
    units: Literal["mm", "inch"] = "mm"
    variant: Literal["web", "print"] = "web"
    left_handed: bool = False
    even_frets: bool = True

    def __post_init__(self) -> None:
        """Refuse what nothing can be drawn in."""
        if not NARROWEST <= self.width <= WIDEST:
            possible = tr("from {narrowest:g} to {widest:g}", narrowest=NARROWEST, widest=WIDEST)
            raise CorrectInputError(
                tr("a drawing {width:g} wide", width=self.width), possible, tr("choose another width")
            )
        if not SMALLEST_TEXT <= self.text <= LARGEST_TEXT:
            possible = tr(
                "from {smallest_text:g} to {largest_text:g}",
                smallest_text=SMALLEST_TEXT,
                largest_text=LARGEST_TEXT,
            )
            raise CorrectInputError(
                tr("text of size {text:g}", text=self.text), possible, tr("choose another size")
            )
        if self.width < NARROWEST_IN_TEXT * self.text:
            given = tr(
                "a drawing {width:g} wide with text of size {text:g}", width=self.width, text=self.text
            )
            possible = tr(
                "at least {narrowest_in_text:g} times as wide as the text is high",
                narrowest_in_text=NARROWEST_IN_TEXT,
            )
            raise CorrectInputError(given, possible, tr("draw wider, or with smaller text"))


SCREEN = Look()
PAPER = Look(width=482.0, text=8.5, variant="print")
"""On paper: 170 mm wide in points."""


@dataclass(frozen=True)
class Table:
    """The drawing's numbers, as a page shows them beside it: the first column names the row."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class TextBox:
    """Where a text stands, by its estimated width: left, top, right, bottom."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: "TextBox") -> bool:
        """Return whether the two boxes share more than an edge."""
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across > 0.01 and down > 0.01


@dataclass(frozen=True)
class Drawing:
    """One drawing: `svg` is whole and safe to embed, `title` and `description` say what it shows."""

    svg: str
    title: str
    description: str
    table: Table
    width: float
    height: float
    text_boxes: tuple[TextBox, ...] = field(default=(), repr=False)

    def to_json(self) -> dict[str, Any]:
        """Return the drawing as plain data."""
        table = {"caption": self.table.caption, "head": self.table.head, "rows": self.table.rows}
        return {"title": self.title, "description": self.description, "svg": self.svg, "table": table}
