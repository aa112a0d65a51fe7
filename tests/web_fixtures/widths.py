"""At which widths a journey is made: its own in every run, all three where that is asked for (`bench/whole.py`)."""

import os
from typing import Any

import pytest

from web_fixtures.rules import WIDTHS

EVERY_WIDTH = "BREAKANGLE_EVERY_WIDTH"  # set: every journey at every width; else each at its own


def widths(own: str) -> list[str]:
    """Return the widths' names at which a journey is made."""
    return list(WIDTHS) if os.environ.get(EVERY_WIDTH) else [own]


def widths_px(own: str) -> list[Any]:
    """Return the widths in px at which a journey is made, each called by its name."""
    return [pytest.param(WIDTHS[name], id=name) for name in widths(own)]
