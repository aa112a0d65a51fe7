"""A sheet in the unit its reader measures in: the same page with its lengths in inches."""

import re
from collections.abc import Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any

from breakangle.documents.renderers.page import Boxes, Page, Table
from breakangle.model.measure import INCH_MM, inch_decimals, sixty_fourths
from breakangle.model.words.said import said_in, whole_in_inches
from breakangle.model.words.speech import mark, tr

LENGTH_HEAD = re.compile(r",[\s\N{NO-BREAK SPACE}]mm$")  # a column, or a row, of lengths in mm
NUMBER = re.compile(r"[−-]?\d+\.\d+")
BOTH = re.compile(r"\d+\.\d+[\s\N{NO-BREAK SPACE}]mm \((\.\d+) in\)")  # a string's size, as makers print it
ACTION = mark("Action")  # the trade says it in 64ths of an inch
OF_LENGTH = "height, mm"
# How well a length is known, in words, and as near to it as a person says it in inches.
SURE_IN = {
    mark("to within two or three hundredths of a millimetre"): mark(
        "to within about a thousandth of an inch"
    ),
    mark("to within a few hundredths of a millimetre"): mark("to within two or three thousandths of an inch"),
    mark("to within about a tenth of a millimetre"): mark("to within about five thousandths of an inch"),
    mark("to within a quarter of a millimetre or so"): mark("to within a hundredth of an inch or so"),
}
KEPT = {"svg", "code_svg", "logo_svg", "tone", "code_words", "language"}


def in_inches(page: Page) -> Page:
    """Return the page with every length in inches, column heads too; drawings bring their own unit."""
    found: Page = _told(page)
    return found


def length_in_inches(text: str) -> str:
    """Return a figure, or two of them, that end in mm as they read in inches; anything else as it is."""
    plain = text.replace("\N{NO-BREAK SPACE}", " ")
    return f"{_cell(plain.removesuffix(' mm'), OF_LENGTH)} in" if plain.endswith(" mm") else text


def rows_in_inches(rows: Sequence[Sequence[str]]) -> tuple[tuple[str, ...], ...]:
    """Return rows of a table, those named after a quantity in mm, as they read in inches."""
    return _rows(rows, [""] * max(map(len, rows), default=0))


def table_in_inches(
    head: Sequence[str], rows: Sequence[Sequence[str]]
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Return a table's head and rows: what is below a head in mm, or beside one, as it reads in inches."""
    return tuple(map(_head, head)), _rows(rows, head)


def _told(value: Any, name: str = "") -> Any:
    if isinstance(value, str):
        return value if name in KEPT else sentence_in_inches(value)
    if isinstance(value, tuple):
        return tuple(_told(item) for item in value)
    if isinstance(value, Table | Boxes):
        return _grid(value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(
            value, **{field.name: _told(getattr(value, field.name), field.name) for field in fields(value)}
        )
    return value


def _grid(grid: Any) -> Any:
    """Return a table or boxes: what is below a head in mm, or beside one, is a length."""
    head, rows = table_in_inches(grid.head, grid.rows)
    changed: dict[str, Any] = {"caption": sentence_in_inches(grid.caption), "head": head, "rows": rows}
    if isinstance(grid, Boxes):
        changed["small"] = _rows(grid.small, grid.head)
    return replace(grid, **changed)


def _rows(rows: Sequence[Sequence[str]], head: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    return tuple(
        tuple(_cell(cell, name) for cell, name in zip(row, _names(row, head), strict=True)) for row in rows
    )


def _names(row: Sequence[str], head: Sequence[str]) -> list[str]:
    """Return what each cell of a row is of, by its row's name or its column's; empty where it is no length."""
    if row and LENGTH_HEAD.search(row[0]):
        return ["", *(row[0] for _ in row[1:])]
    return [name if LENGTH_HEAD.search(name) else "" for name in list(head)[: len(row)]]


def _cell(cell: str, name: str) -> str:
    """Return a cell in inches where `name` is that of a length; an action with its 64ths behind it."""
    if not name:
        return _head(cell)
    figures, _, spread = cell.partition("±")
    heights, wide = (
        [float(one[0].replace("−", "-")) for one in NUMBER.finditer(part)] for part in (figures, spread)
    )
    decimals = inch_decimals(*heights, spread_mm=max(wide, default=0.0))
    text = NUMBER.sub(lambda found: _inch(float(found[0].replace("−", "-")), decimals), cell)
    if not (heights and name.casefold().startswith(tr(ACTION).casefold())):
        return text
    return f"{text} ({' to '.join(dict.fromkeys(map(sixty_fourths, heights)))})"


def _head(text: str) -> str:
    return LENGTH_HEAD.sub(", in", text) if LENGTH_HEAD.search(text) else sentence_in_inches(text)


def sentence_in_inches(text: str) -> str:
    """Return a sentence with its lengths in inches."""
    text = BOTH.sub(r"\1 in", text)
    for metric, inches in SURE_IN.items():
        text = text.replace(tr(metric), tr(inches))
    return said_in(whole_in_inches(text.replace("\N{NO-BREAK SPACE}mm", " mm")), _length, "in")


def _length(coarse: bool, mm: float, wide_mm: float) -> tuple[str, str]:
    decimals = 2 if coarse else inch_decimals(mm, spread_mm=wide_mm)
    return _inch(mm, decimals), _inch(wide_mm, decimals)


def _inch(mm: float, decimals: int) -> str:
    text = f"{mm / INCH_MM:.{decimals}f}"
    return (text.removeprefix("-") if float(text) == 0.0 else text).replace("-", "−")
