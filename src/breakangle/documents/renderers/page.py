"""A sheet as plain data: its head, and blocks in reading order. Renderers beside this file make PDF, HTML and text."""

from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any

from breakangle.model.words.speech import spoken_language


@dataclass(frozen=True)
class Letterhead:
    """The shop's own heading: its name, lines below it, and its logo as SVG text, empty without one."""

    name: str
    lines: tuple[str, ...] = ()
    logo_svg: str = ""


@dataclass(frozen=True)
class Heading:
    """A heading within the sheet."""

    text: str


@dataclass(frozen=True)
class Paragraph:
    """A paragraph; `tone` is `plain`, `lead` (what matters most) or `small`.

    `with_next`: on paper it stays on one page with what follows it.
    """

    text: str
    tone: str = "plain"
    with_next: bool = False


@dataclass(frozen=True)
class Points:
    """Sentences behind marks; with `ticks`, boxes to tick by hand."""

    items: tuple[str, ...]
    ticks: bool = False


@dataclass(frozen=True)
class Facts:
    """Names and values in pairs."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """A table; columns from `numbers_from` on hold numbers. `last` marks the last row as a sum."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers_from: int = 1
    last: bool = False


@dataclass(frozen=True)
class Picture:
    """A picture as SVG text, with words for those who do not see it; `tall_mm`: at most so tall on paper."""

    svg: str
    alt: str
    caption: str = ""
    tall_mm: float = 0.0


@dataclass(frozen=True)
class Boxes:
    """A grid to fill in by hand, in reading order: a cell with text is printed, an empty one is a box.

    `small` holds, for each cell, what is printed small inside its box, such as what is wanted.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    small: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Blanks:
    """Named blanks to write on, side by side: (name, what is known already, share of the line)."""

    fields: tuple[tuple[str, str, float], ...]


@dataclass(frozen=True)
class Ruled:
    """Empty lines to write on, under a name."""

    name: str
    count: int


@dataclass(frozen=True)
class Beside:
    """Two columns of blocks; read the left one first. `left_share` is the left one's part of the width."""

    left: "tuple[Block, ...]"
    right: "tuple[Block, ...]"
    left_share: float = 0.5


@dataclass(frozen=True)
class Break:
    """What follows begins on a page of its own."""

    name: str = ""


Block = Heading | Paragraph | Points | Facts | Table | Picture | Boxes | Blanks | Ruled | Beside | Break


@dataclass(frozen=True)
class Page:
    """One sheet: `kind` is what it is called, `title` what it is of; `code_svg` a QR code, its words in `code_alt`.

    No text on it is smaller than `small_pt`, drawings and the corners of boxes apart.
    """

    kind: str
    title: str
    letterhead: Letterhead
    facts: tuple[tuple[str, str], ...]
    blocks: tuple[Block, ...]
    foot: str = ""
    code_svg: str = ""
    code_alt: str = ""
    code_words: str = ""
    language: str = field(default_factory=lambda: spoken_language().split("_")[0])
    small_pt: float = 7.4

    @property
    def heading(self) -> str:
        """Return the sheet's whole title."""
        return f"{self.kind}: {self.title}"


def as_data(value: Any) -> Any:
    """Return a page or block as plain data; each block carries its name under `block`."""
    if is_dataclass(value) and not isinstance(value, type):
        found = {one.name: as_data(getattr(value, one.name)) for one in fields(value)}
        return found | {"block": type(value).__name__.lower()}
    if isinstance(value, tuple | list):
        return [as_data(one) for one in value]
    return value
