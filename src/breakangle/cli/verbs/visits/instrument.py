"""`instrument`: what is told of an instrument, shown and put right."""

import argparse
import sys
from collections.abc import Iterator
from shlex import quote
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, number_of, opened, stamp_of
from breakangle.cli.render.typed_options import whole
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.records import InstrumentRecord
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "instrument",
        help=tr("an instrument's sizes and strings: show them, or put right what was told wrongly"),
        description=tr(
            "Show what is told of the instrument of a sheet, as it can be typed back; or put "
            "right what was told wrongly, such as: breakangle instrument 12 scale_mm=628.65 "
            "gauge_1=.009in rod=dual. Its visits that are not handed back have it so too; those "
            "that are keep what they had until they are opened again. New strings that went on "
            "are no correction: breakangle work NUMBER restring."
        ),
    )
    add_number(verb)
    verb.add_argument(
        "words",
        metavar="NAME=VALUE",
        nargs="*",
        help=tr("what is right; nothing after the = where it is not known"),
    )
    verb.add_argument(
        "--seen", type=whole, metavar="VERSION", help=tr("refuse if it is not of this version any more")
    )
    add_units(verb)
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Put right what was given, and print what is told of the instrument.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.intake.corrected_instrument import correct_by_names
    from breakangle.services.visits.visits import visit_numbered
    from breakangle.storage.records.records import InstrumentRecord
    from breakangle.storage.schema.errors import EditedMeanwhileError

    unit = units_asked(arguments).name
    if not all("=" in word for word in arguments.words):
        raise CorrectInputError(tr("a word without ="), "name=value", tr("such as scale_mm=628.65"))
    typed = dict(word.split("=", 1) for word in arguments.words)
    with opened(arguments) as shop:
        number = number_of(arguments)
        if typed:
            try:
                correct_by_names(shop, number, typed, stamp_of(arguments), unit, arguments.seen)
            except EditedMeanwhileError as both:
                told = _told(shop, both.theirs, unit)
                for name, text in typed.items():
                    sys.stderr.write(
                        tr(
                            "there: {name}={told}\nyours: {name}={text}\n",
                            name=name,
                            told=told.get(name, ""),
                            text=text,
                        )
                    )
                raise
        record = shop.get(InstrumentRecord, visit_numbered(shop, number).instrument_id)
        say(tr("{id}, {kind}, version {version}", id=record.id, kind=record.kind, version=record.version))
        for line in _lines(_told(shop, record, unit)):
            say(line)
    return 0


def _told(shop: "Shop", record: "InstrumentRecord", unit: str) -> dict[str, str]:
    """Return what is told of an instrument and whose it is, by the names that put it right."""
    from breakangle.services.intake.instrument_boxes import boxes_told
    from breakangle.services.visits.visits import instrument_of
    from breakangle.storage.records.records import Owner

    told = boxes_told(instrument_of(record), unit)
    owner = shop.get(Owner, record.owner_id, deleted=True).name if record.owner_id else ""
    return {"name": told["name"], "owner": owner} | told


def _lines(told: dict[str, str]) -> Iterator[str]:
    """Yield a line for each size and for each string, quoted for a shell."""
    strings: dict[str, list[str]] = {}
    for name, text in told.items():
        place = name.rpartition("_")[2]
        words = f"{name}={quote(text) if text else ''}"
        if place.isdecimal():
            strings.setdefault(place, []).append(words)
        else:
            yield words
    yield from (" ".join(words) for words in strings.values())
