"""Files that paper goes into, and a bar for what takes long."""

import os
import sys
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr

One = TypeVar("One")
LARGEST_BYTES = 20_000_000


def bytes_of(name: str) -> bytes:
    """Return the bytes of a file.

    Raises:
        ChooseAnotherFileError: it cannot be read, or is larger than 20 MB.
    """
    path = Path(name)
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise ChooseAnotherFileError(
                tr("{name} is larger than 20 MB", name=name), "", tr("name another file")
            )
        return path.read_bytes()
    except (OSError, ValueError) as cause:
        reason = (getattr(cause, "strerror", None) or str(cause)).lower()
        raise ChooseAnotherFileError(
            tr("{name} cannot be read: {reason}", name=name, reason=reason), "", tr("name another file")
        ) from cause


def write_bytes(name: str, content: bytes) -> str:
    """Write a file whole or not at all, and return what to say of it.

    Raises:
        ChooseAnotherFileError: the place cannot be written.
    """
    path = Path(name)
    try:
        number, unfinished = tempfile.mkstemp(prefix=".unfinished-", dir=path.resolve().parent)
        try:
            with os.fdopen(number, "wb") as file:
                file.write(content)
            Path(unfinished).chmod(0o644)
            Path(unfinished).replace(path)
        finally:
            with suppress(FileNotFoundError):
                Path(unfinished).unlink()
    except (OSError, ValueError) as cause:
        reason = (getattr(cause, "strerror", None) or str(cause)).lower()
        raise ChooseAnotherFileError(
            tr("{name} cannot be written: {reason}", name=name, reason=reason), "", tr("name another place")
        ) from cause
    return f"{path} ({len(content) / 1000:.0f} kB)"


def shown_progress(things: Iterable[One], total: int, words: str) -> Iterator[One]:
    """Yield each thing as it is done, with a bar on standard error where a person looks at it."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    console = Console(file=sys.stderr, highlight=False)
    columns = (TextColumn(words), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, disable=not console.is_terminal) as bar:
        task = bar.add_task(words, total=total)
        for one in things:
            bar.advance(task)
            yield one
