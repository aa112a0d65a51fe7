"""Lengths in the person's own unit, never with more digits than a gauge supports."""

import argparse
import os
from dataclasses import dataclass

from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import INCH_MM, inch_decimals
from breakangle.model.words.said import said_in, whole_in_inches
from breakangle.model.words.speech import tr

VARIABLE = "BREAKANGLE_UNITS"
NAMES = ("mm", "in")
FINEST_IN = {3: 0.0005, 4: 0.0001}


@dataclass(frozen=True)
class Units:
    """The unit lengths are shown in: `mm` to 0.01, or `in` to half a thousandth, small ones to a tenth of one."""

    name: str = "mm"

    def figure(self, value: float, unit: str, decimals: int) -> str:
        """Return `value` without its unit's name; a length in mm comes out in the person's unit."""
        if unit == "mm":
            finest = FINEST_IN[inch_decimals(value)]
            in_inches = round(value / INCH_MM / finest) * finest
            value, decimals = (value, 2) if self.name == "mm" else (in_inches, 4)
        text = f"{value:.{decimals}f}"
        return text.removeprefix("-") if float(text) == 0.0 else text.replace("-", "−")

    def unit_of(self, unit: str) -> str:
        """Return the name of what `figure` shows for values in `unit`."""
        return ("mm" if self.name == "mm" else tr("inches")) if unit == "mm" else tr(unit)

    def sentence(self, text: str) -> str:
        """Return `text` with its lengths in the person's unit."""
        return text if self.name == "mm" else said_in(whole_in_inches(text), self._said, "in")

    def rough(self, value_mm: float, decimals: int = 0) -> str:
        """Return a length that nobody needs to a hundredth: mm to `decimals`, inches to two more."""
        per, more = (1.0, 0) if self.name == "mm" else (INCH_MM, 2)
        return f"{value_mm / per:.{decimals + more}f}"

    def _said(self, coarse: bool, mm: float, wide_mm: float) -> tuple[str, str]:
        length, wide = (self.rough(one) if coarse else self.figure(one, "mm", 2) for one in (mm, wide_mm))
        return length, wide


def add_units(verb: argparse.ArgumentParser) -> None:
    """Give `verb` its --units option."""
    told = tr("unit of lengths shown (default mm, or what {variable} says)", variable=VARIABLE)
    verb.add_argument("--units", choices=NAMES, help=told)


def units_asked(arguments: argparse.Namespace) -> Units:
    """Return the unit asked for by option, by environment, or else mm.

    Raises:
        CorrectInputError: the environment names a unit that does not exist.
    """
    name = arguments.units or os.environ.get(VARIABLE) or "mm"
    if name not in NAMES:
        raise CorrectInputError(
            tr("{variable} is {name!r}", variable=VARIABLE, name=name),
            tr("it can be {names}", names=tr(" or ").join(NAMES)),
        )
    return Units(name)
