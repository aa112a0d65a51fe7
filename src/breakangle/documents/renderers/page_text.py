"""A sheet as plain text, to be sent by mail: nothing but words, seventy-eight columns, pictures as their words."""

import textwrap
import unicodedata

from breakangle.documents.renderers.page import (
    Beside,
    Blanks,
    Block,
    Boxes,
    Break,
    Facts,
    Heading,
    Page,
    Paragraph,
    Picture,
    Points,
    Ruled,
    Table,
)

COLUMNS = 78  # RFC 5322, 2.1.1


def page_text(page: Page) -> str:
    """Return the sheet as text with lines of at most 78 columns (a longer word stands alone)."""
    lines = [page.letterhead.name, *page.letterhead.lines, "", *_filled(page.heading), "=" * COLUMNS]
    lines += _pairs(page.facts)
    for block in page.blocks:
        lines += ["", *_block(block)]
    if page.foot:
        lines += ["", "-" * COLUMNS, *_filled(page.foot)]
    return "\n".join(_tidy(lines)) + "\n"


def _tidy(lines: list[str]) -> list[str]:
    """Return the lines without control signs, and without two empty ones together."""
    kept: list[str] = []
    for line in lines:
        clean = "".join(sign for sign in line if unicodedata.category(sign) != "Cc").rstrip()
        if clean or (kept and kept[-1]):
            kept.append(clean)
    return kept


def _filled(text: str, first: str = "", rest: str = "") -> list[str]:
    found: list[str] = []
    for part in text.split("\n"):
        found += textwrap.wrap(
            part, COLUMNS, initial_indent=first, subsequent_indent=rest, break_long_words=False,
            break_on_hyphens=False,
        ) or [""]  # fmt: skip
    return found


def _pairs(pairs: tuple[tuple[str, str], ...]) -> list[str]:
    wide = max((len(name) for name, _ in pairs), default=0) + 2
    return [
        line for name, value in pairs for line in _filled(value, f"{name + ':':<{wide}}", " " * wide) if value
    ]


def _block(block: Block) -> list[str]:
    """Return one block's lines."""
    if isinstance(block, Heading):
        return [block.text.upper(), ""]
    if isinstance(block, Paragraph):
        return _filled(block.text)
    if isinstance(block, Points):
        mark = "[ ] " if block.ticks else "- "
        return [line for item in block.items for line in _filled(item, mark, " " * len(mark))]
    if isinstance(block, Facts):
        return _pairs(block.pairs)
    if isinstance(block, Table | Boxes):
        return _table(block)
    if isinstance(block, Picture):
        return _filled(f"[{block.caption or 'Picture'}: {block.alt}]")
    if isinstance(block, Blanks):
        return [f"{name}: {known or '____________'}" for name, known, _ in block.fields]
    if isinstance(block, Ruled):
        return [f"{block.name}:", *["_" * COLUMNS] * block.count]
    if isinstance(block, Break):
        return []
    assert isinstance(block, Beside)
    return [line for one in (*block.left, *block.right) for line in ["", *_block(one)]]


def _table(table: Table | Boxes) -> list[str]:
    """Return columns side by side where they fit, else a line for each cell under its row's name."""
    wide = [
        max([len(row[column]) for row in table.rows] + [len(word) for word in table.head[column].split()])
        for column in range(len(table.head))
    ]
    lines = _filled(table.caption) if table.caption else []
    gap = next((gap for gap in (2, 1) if sum(wide) + gap * (len(wide) - 1) <= COLUMNS), 0)
    if not gap:
        return lines + _one_below_the_other(table)
    first = table.numbers_from if isinstance(table, Table) else 1
    heads = [textwrap.wrap(name, max(size, 1)) for name, size in zip(table.head, wide, strict=True)]
    tall = max(len(head) for head in heads)
    # Headings of several lines stand on the same foot.
    top = zip(*([""] * (tall - len(head)) + head for head in heads), strict=True)
    for row in (*top, *table.rows):
        cells = [
            cell.ljust(size) if column < first else cell.rjust(size)
            for column, (cell, size) in enumerate(zip(row, wide, strict=True))
        ]
        lines.append((" " * gap).join(cells).rstrip())
    return lines


def _one_below_the_other(table: Table | Boxes) -> list[str]:
    lines: list[str] = []
    for row in table.rows:
        for name, cell in zip(table.head, row, strict=True):
            if cell:
                lines += _filled(f"{name}: {cell}" if name else cell, "", "  ")
        lines.append("")
    return lines
