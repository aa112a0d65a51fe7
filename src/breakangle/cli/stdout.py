"""A clean standard output: what compiled libraries print to descriptor 1 by themselves goes nowhere."""

import os
import sys
from pathlib import Path


def keep_stdout_clean() -> None:
    """Give Python's standard output its own copy of descriptor 1, and point descriptor 1 itself nowhere.

    The solver library prints a line of its own there now and then, in the middle of a JSON answer. Call once,
    at the start of a process. Where there is no standard output, what is written goes nowhere.
    """
    if sys.stdout is None:
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 (for the whole process)
        return
    sys.stdout.flush()
    kept = os.dup(1)
    sys.stdout = os.fdopen(
        kept, "w", encoding=sys.stdout.encoding, errors="replace", buffering=_buffering(kept)
    )
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)


def _buffering(descriptor: int) -> int:
    """Return line by line for a person, blocks for a pipe."""
    return 1 if os.isatty(descriptor) else -1


def drop_stdout() -> None:
    """Point Python's standard output nowhere: the reader has gone, and what is left must not complain."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
