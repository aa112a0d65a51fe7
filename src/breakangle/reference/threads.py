"""Adjuster threads: how far a screw moves in one turn."""

from dataclasses import dataclass
from functools import cache

from breakangle.reference.rows import look_up, read_table


@dataclass(frozen=True)
class Thread:
    """A thread; ``pitch_mm`` is its travel per whole turn."""

    key: str
    words: str
    pitch_mm: float
    source: str


@cache
def _threads() -> dict[str, Thread]:
    return {key: Thread(key=key, **row) for key, row in read_table("threads").items()}


def threads() -> tuple[str, ...]:
    """Keys of the known threads."""
    return tuple(_threads())


def thread(key: str) -> Thread:
    """A thread by its key.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    return look_up("thread", key, _threads())
