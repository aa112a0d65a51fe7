"""At which widths a journey is made: its own in every run, all three where that is asked for (`bench/whole.py`)."""

import os
from typing import Any

import pytest

from web_fixtures.rules import WIDTHS

EVERY_WIDTH = "BREAKANGLE_EVERY_WIDTH"  # set: every journey at every width; else each at its own
LONG = "a minute and more on one core: `python -m bench.prove whole` goes it at every width"


def widths(own: str, long: bool = False) -> list[Any]:
    """Return the widths' names at which a journey is made; a `long` one only where all are asked for."""
    if os.environ.get(EVERY_WIDTH):
        return list(WIDTHS)
    return [pytest.param(own, marks=pytest.mark.skip(reason=LONG))] if long else [own]


def widths_px(own: str) -> list[Any]:
    """Return the widths in px at which a journey is made, each called by its name."""
    return [pytest.param(WIDTHS[name], id=name) for name in widths(own)]
