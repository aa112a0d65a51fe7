"""Bases of the three open families of the service file: readings, adjustments, targets.

The kinds themselves live with what they mean, one file each (`planning/kinds/readings`, `planning/kinds/adjustments`,
`planning/kinds/targets`); here is what the file format needs to know of any of them.
"""

from collections.abc import Iterator
from typing import Annotated, Any

from breakangle.model.instrument import Instrument
from breakangle.model.words.noun import Between, FretNumber, Noun, StringNumber
from breakangle.model.words.speech import tr


def place_misfits(instrument: Instrument, string: int | None, fret: int) -> Iterator[tuple[str, str]]:
    """Yield (key, what is allowed) where `string` or `fret` is not on this instrument."""
    count = len(instrument.strings)
    if string is not None and string > count:
        yield "string", tr("a string from 1 to {count}", count=count)
    elif fret > instrument.frets:
        yield "fret", tr("a fret from 0 to {frets}", frets=instrument.frets)
    elif string is not None:
        first = instrument.in_order()[string - 1].nut_at_fret
        if 0 < fret <= first:
            yield (
                "fret",
                tr(
                    "0 (open) or a fret from {first} to {frets}, past this string's own nut",
                    first=first + 1,
                    frets=instrument.frets,
                ),
            )


class Placed(Noun):
    """Something at one fret of one string."""

    quantity: str
    string: StringNumber
    fret: FretNumber

    def model_post_init(self, context: Any, /) -> None:
        """Count the kind's name as given, so that it is always written."""
        del context
        self.model_fields_set.add("quantity")

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield (key, what is allowed) for whatever this instrument does not have."""
        yield from place_misfits(instrument, self.string, self.fret)


class Reading(Placed):
    """One reading; each kind fixes `quantity` to its name and carries its value under a key with a unit."""

    after: Annotated[int, Between(0, 10000, "", whole=True)] = 0


class Target(Placed):
    """One wanted figure with its tolerance; each kind fixes `quantity` to its name."""


class Adjustment(Noun):
    """One adjustment made or planned; each kind fixes `adjust` to its name."""

    adjust: str

    def model_post_init(self, context: Any, /) -> None:
        """Count the kind's name as given, so that it is always written."""
        del context
        self.model_fields_set.add("adjust")

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield (key, what is allowed) for whatever this instrument does not have."""
        del instrument
        yield from ()

    def format_number(self) -> int:
        """Return the number of the first form of the service file that has this adjustment."""
        return 1

    def changed_instrument(self, instrument: Instrument) -> Instrument:
        """Return the instrument as this adjustment leaves it (most leave what it *is* unchanged)."""
        return instrument


class StringAdjustment(Adjustment):
    """An adjustment of one string's own adjuster."""

    string: StringNumber

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield (key, what is allowed) where this string is not on the instrument."""
        yield from place_misfits(instrument, self.string, 0)
