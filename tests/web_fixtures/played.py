"""What a test plays to a browser, and the instrument on the bench that it is of."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from playwright.sync_api import Page

from breakangle.reference.families import family
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.schema.stamp import Stamp

RATE = 44_100  # that of Chromium's played microphone: its sound comes through as it is


class Played(Protocol):
    """Opens a tab of a browser whose microphone plays these samples, once or over and over."""

    def __call__(self, sound: NDArray[np.float64], over_and_over: bool = False) -> Page: ...


def on_the_bench(folder: Path) -> int:
    """Put a six-string in for a visit into the shop in `folder`, and return its sheet's number."""
    shop = shop_at(folder)
    stamp = Stamp("Ada", datetime.now(UTC))
    record = add_instrument(shop, stamp, usual_instrument(family("electric-guitar"), "Dunlin"))
    number = open_visit(shop, stamp, record).number
    shop.close()
    return number
