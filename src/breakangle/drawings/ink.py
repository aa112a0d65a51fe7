"""What each stroke, fill and text looks like: as attributes for a page, and as attributes for paper.

On a page every element carries a class, so that the page's style sheet decides (`drawing.css` is a good
start); the attributes are what remains without one, in the colour of the text around. On paper the
attributes are all there is. Meaning is told apart by dashes, weight and shape: it survives grey.
"""

from dataclasses import dataclass
from typing import Final

PAPER_FACES: Final = "'Libertinus Serif', 'DejaVu Serif', serif"


@dataclass(frozen=True)
class Ink:
    """Attributes of one kind of element, for a page and for paper."""

    page: str
    paper: str


def _stroke(width: float, dash: str = "", paper_width: float | None = None, shade: str = "#000") -> Ink:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    common = f'fill="none" stroke-linejoin="round"{dashes}'
    thin = width * 0.6 if paper_width is None else paper_width
    return Ink(
        f'{common} stroke="currentColor" stroke-width="{width:g}"',
        f'{common} stroke="{shade}" stroke-width="{thin:g}"',
    )


def _fill(opacity: float, shade: str) -> Ink:
    return Ink(
        f'fill="currentColor" fill-opacity="{opacity:g}" stroke="none"', f'fill="{shade}" stroke="none"'
    )


def _cell(opacity: float, shade: str) -> Ink:
    return Ink(
        f'fill="currentColor" fill-opacity="{opacity:g}" stroke="currentColor" stroke-opacity="0.3"',
        f'fill="{shade}" stroke="#999" stroke-width="0.4"',
    )


INKS: Final[dict[str, Ink]] = {
    "string": _stroke(2.2),
    "string-after": _stroke(2.2, "8 5"),
    "held": _stroke(0.9, "1 3", shade="#333"),
    "band": _fill(0.16, "#d4d4d4"),
    "wood": Ink(
        'fill="currentColor" fill-opacity="0.07" stroke="currentColor" stroke-width="1"',
        'fill="#f1f1f1" stroke="#000" stroke-width="0.5"',
    ),
    "body": Ink(
        'fill="currentColor" fill-opacity="0.03" stroke="currentColor" stroke-width="0.75"',
        'fill="#fafafa" stroke="#555" stroke-width="0.4"',
    ),
    "part": Ink(
        'fill="currentColor" fill-opacity="0.3" stroke="currentColor" stroke-width="1"',
        'fill="#bdbdbd" stroke="#000" stroke-width="0.6"',
    ),
    "part-after": _stroke(1.2, "3 3"),
    "fret": _stroke(2.0),
    "fret-after": _stroke(1.1, "5 2.5"),
    "hatch": _stroke(0.6, shade="#777"),
    "rule": _stroke(0.8, shade="#555"),
    "grid": Ink(
        'fill="none" stroke="currentColor" stroke-opacity="0.22" stroke-width="1"',
        'fill="none" stroke="#bbb" stroke-width="0.4"',
    ),
    "leader": Ink(
        'fill="none" stroke="currentColor" stroke-opacity="0.6" stroke-width="0.8"',
        'fill="none" stroke="#555" stroke-width="0.4"',
    ),
    "rod": _stroke(1.4, "10 3 2 3"),
    "nut": _stroke(3.0, paper_width=1.8),
    "move": _stroke(2.6, paper_width=1.5),
    "move-head": Ink('fill="currentColor" stroke="none"', 'fill="#000" stroke="none"'),
    "mark": Ink('fill="currentColor" stroke="none"', 'fill="#000" stroke="none"'),
    "mark-open": _stroke(1.3),
    "cross": _stroke(2.2),
    "cell": _cell(0.02, "#fff"),
    "cell-warm-1": _cell(0.08, "#ececec"),
    "cell-warm-2": _cell(0.16, "#d8d8d8"),
    "cell-warm-3": _cell(0.26, "#bebebe"),
    "cell-cool-1": _cell(0.08, "#ececec"),
    "cell-cool-3": _cell(0.26, "#bebebe"),
    "curve-1": _stroke(2.0, paper_width=1.2),
    "curve-2": _stroke(2.0, "8 4", paper_width=1.2),
    "curve-3": _stroke(2.0, "2 3", paper_width=1.2),
    "curve-4": _stroke(2.0, "10 3 2 3", paper_width=1.2),
    "wanted": Ink('fill="currentColor" fill-opacity="0.08" stroke="none"', 'fill="#ebebeb" stroke="none"'),
    "window": Ink('fill="currentColor" fill-opacity="0.1" stroke="none"', 'fill="#e4e4e4" stroke="none"'),
}

TEXTS: Final[dict[str, Ink]] = {
    "text": Ink('fill="currentColor"', 'fill="#000"'),
    "strong": Ink('fill="currentColor" font-weight="700"', 'fill="#000" font-weight="700"'),
    "quiet": Ink('fill="currentColor" fill-opacity="0.8"', 'fill="#333"'),
}


def attributes(name: str, variant: str) -> str:
    """Return the attributes of one kind of line or area in this variant, class included."""
    ink = INKS[name]
    return f'class="dr-{name}" {ink.page}' if variant == "web" else ink.paper


def text_attributes(name: str, variant: str) -> str:
    """Return the attributes of one kind of text in this variant, class included."""
    ink = TEXTS[name]
    return f'class="dr-{name}" {ink.page}' if variant == "web" else ink.paper
