"""The shop a verb works on, and who is working."""

import argparse
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.records import Visit
    from breakangle.storage.records.store import Shop
    from breakangle.storage.schema.stamp import Stamp

WHO_NAME = "BREAKANGLE_WHO"


def add_shop(verb: argparse.ArgumentParser, writes: bool = False) -> None:
    """Give `verb` what every verb of the shop has: `--example`, and `--who` where it writes."""
    verb.add_argument("--example", action="store_true", help=tr("the example workshop, not your own shop"))
    if writes:
        verb.add_argument(
            "--who",
            metavar="NAME",
            help=tr("who is working (else ${who_name}, else bench)", who_name=WHO_NAME),
        )


def add_number(verb: argparse.ArgumentParser) -> None:
    """Give `verb` the number of a visit's sheet."""
    verb.add_argument("number", metavar="NUMBER", help=tr("the number of the visit's sheet"))


@contextmanager
def opened(arguments: argparse.Namespace) -> Iterator["Shop"]:
    """Open the shop, see to today's backup, and close it again."""
    from breakangle.services.workshop.opening import backed_up, open_shop, shop_at, where

    if arguments.example:
        place = where().example
        if not place.exists():
            raise CorrectInputError(
                tr("there is no example workshop"), "", tr("make it: breakangle example-shop load")
            )
        shop = shop_at(place)
    else:
        shop = open_shop()
    try:
        trouble = "" if arguments.example else backed_up(shop, now())
        if trouble:
            sys.stderr.write(f"breakangle: {trouble}\n")
        yield shop
    finally:
        shop.close()


def now() -> datetime:
    """Return this moment."""
    return datetime.now(UTC)


def stamp_of(arguments: argparse.Namespace) -> "Stamp":
    """Return who is working, now: the account's name is not a person's, so nobody is named by it.

    Raises:
        CorrectInputError: a name of blanks.
    """
    from breakangle.storage.schema.stamp import NOBODY_NAMED, Stamp

    return Stamp(arguments.who or os.environ.get(WHO_NAME) or NOBODY_NAMED, now())


def piped() -> bytes:
    """Return what comes through the pipe, or a little more than a service file may have, to be refused as such."""
    from breakangle.services.service_files.service import LARGEST_FILE_BYTES

    return sys.stdin.buffer.read(LARGEST_FILE_BYTES + 1)


def number_of(arguments: argparse.Namespace) -> int:
    """Return the sheet's number that was given.

    Raises:
        CorrectInputError: no number.
    """
    try:
        return int(arguments.number)
    except ValueError as cause:
        raise CorrectInputError(
            tr('"{arguments_number}" is no sheet number', arguments_number=arguments.number),
            tr("a whole number"),
            "",
        ) from cause


def visit_of(shop: "Shop", arguments: argparse.Namespace) -> "Visit":
    """Return the visit whose number was given.

    Raises:
        CorrectInputError: no number.
        NoSuchRecordError: no such sheet.
    """
    from breakangle.services.visits.visits import visit_numbered

    return visit_numbered(shop, number_of(arguments))
