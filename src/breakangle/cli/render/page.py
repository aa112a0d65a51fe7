"""A page of text: plain, eighty columns unless the window is wider, colour only where a person looks."""

import io
import sys
from collections.abc import Callable, Sequence
from typing import IO

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

NARROWEST, WIDEST = 76, 100


def print_page(draw: Callable[[Console], None]) -> None:
    """Print what `draw` draws: with style for a person, without blanks at line ends for a pipe."""
    console = console_for(sys.stdout)
    if console.is_terminal:
        draw(console)
        return
    page = io.StringIO()
    draw(console_for(page, console.width))
    sys.stdout.write("".join(f"{line.rstrip()}\n" for line in page.getvalue().splitlines()))


def console_for(file: IO[str], width: int | None = None) -> Console:
    """Return a console that writes to `file`."""
    found = Console(file=file, highlight=False, markup=False, emoji=False, width=width)
    found.width = min(max(found.width, NARROWEST), WIDEST)
    return found


def heading(console: Console, words: str) -> None:
    """Print a heading with an empty line before it."""
    console.print()
    console.print(Text(words, style="bold"))


def paragraph(console: Console, words: str, indent: int = 0, style: str = "") -> None:
    """Print a paragraph."""
    console.print(Padding(Text(words, style=style), (0, 0, 0, indent)))


def bullets(console: Console, sentences: Sequence[str], mark: str = "-") -> None:
    """Print each sentence behind a mark, its later lines indented."""
    listed = Table.grid(padding=(0, 1))
    listed.add_column(width=len(mark))
    listed.add_column(overflow="fold")
    for sentence in sentences:
        listed.add_row(Text(mark), Text(sentence))
    console.print(Padding(listed, (0, 0, 0, 1)))


def grid(columns: Sequence[tuple[str, str, int | None]], head: bool = True) -> Table:
    """Return an empty table of (heading, justification, width) columns, with its head or without."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=head)
    for name, side, width in columns:
        table.add_column(Text(name, style="dim"), justify=side, width=width, no_wrap=True)  # type: ignore[arg-type]
    return table
