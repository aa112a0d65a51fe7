"""How far a fleet's run has come: on one line that changes on a screen, and a line now and then in a log."""

import sys
import time
from typing import TYPE_CHECKING

from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.fleet.run import Progress

EVERY_S = 30.0  # between the lines of a log


class Teller:
    """Writes progress to the standard error stream as it hears of it."""

    def __init__(self, every_s: float = EVERY_S) -> None:
        """Begin; `every_s` lie between two lines of a log."""
        self._every_s, self._told_at_s = every_s, time.monotonic()

    def __call__(self, progress: "Progress") -> None:
        """Write how far the run has come, where it is time to."""
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{progress_words(progress)}   ")
        elif time.monotonic() - self._told_at_s >= self._every_s:
            self._told_at_s = time.monotonic()
            sys.stderr.write(f"{progress_words(progress)}\n")
        sys.stderr.flush()


def progress_words(progress: "Progress") -> str:
    """Return progress in words: how many, how many failed, how fast, and how long the rest takes."""
    left = "" if progress.left_s is None else tr(", about {left_s:.0f} s left", left_s=progress.left_s)
    return tr(
        "{done} of {total}, {failed} failed, {rate_per_s:.1f} a second{left}",
        done=progress.done,
        total=progress.total,
        failed=progress.failed,
        rate_per_s=progress.rate_per_s,
        left=left,
    )
