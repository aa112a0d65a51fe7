"""`breakangle take-in`: store a service file as a visit, or open a visit of an instrument that has been here."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import PIPE, say
from breakangle.cli.render.shop_entry import (
    add_shop,
    number_of,
    opened,
    piped,
    stamp_of,
)
from breakangle.cli.render.typed_options import number
from breakangle.model.words.speech import mark, tr

if TYPE_CHECKING:
    from datetime import datetime

    from breakangle.storage.records.store import Shop
    from breakangle.storage.schema.stamp import Stamp


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "take-in",
        help=tr("store a service file as a visit, or open a visit of an instrument that has been here"),
        description=tr(
            "Store a service file as a visit of its instrument; the same file twice is one "
            "visit. Or, with --again, open a new visit of the instrument of an earlier sheet."
        ),
    )
    verb.add_argument("file", metavar="FILE", nargs="?", help=tr("a service file, or - for a pipe"))
    verb.add_argument("--again", dest="number", metavar="NUMBER", help=tr("the number of an earlier sheet"))
    verb.add_argument("--complaint", default="", help=tr("what the owner says is wrong"))
    verb.add_argument(
        "--owner", metavar="NAME", help=tr("with a file: whose it is; a name that may be here is asked about")
    )
    verb.add_argument(
        "--whose", metavar="RECORD", default="", help=tr("with --owner, where asked: same, new, or a record")
    )
    verb.add_argument(
        "--instrument",
        metavar="NUMBER",
        default="",
        help=tr("with a file, where asked whether the instrument is here already: a sheet of its, or new"),
    )
    verb.add_argument(
        "--on",
        metavar="DAY",
        default="",
        help=tr("the day it came in, as 2027-03-01, where that was earlier"),
    )
    verb.add_argument("--humidity", metavar="PERCENT", type=number, help=tr("with --again: of the room"))
    verb.add_argument("--temperature", metavar="C", type=number, help=tr("with --again: of the room"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    with opened(arguments) as shop:
        _take_in(shop, arguments)
    return 0


def _take_in_again(
    shop: "Shop", arguments: argparse.Namespace, stamp: "Stamp", came_in: "datetime | None"
) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.visit_sheets.sheets import take_in_again

    if arguments.owner is not None:
        given = tr("--owner with --again: the instrument has its owner already")
        raise CorrectInputError(given, "", tr("breakangle change instrument, with owner_id="))
    air = arguments.temperature, arguments.humidity
    visit, record = take_in_again(shop, stamp, number_of(arguments), arguments.complaint, *air, came_in)
    say(tr("Sheet {number}: {instrument}, waiting.", number=visit.number, instrument=record.name))


def _take_in(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.cli.render.request import say_asked
    from breakangle.cli.render.units import Units
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.plans.solved_visits import asked_of_typed
    from breakangle.services.typed_values.past_days import day_typed
    from breakangle.services.visit_sheets.sheets import file_content, take_in

    stamp = stamp_of(arguments)
    came_in = day_typed(arguments.on, stamp.at)
    if (arguments.file is None) == (arguments.number is None):
        given = tr("neither a file nor --again") if arguments.file is None else tr("a file and --again")
        raise CorrectInputError(given, tr("one of the two"), tr("give a service file, or --again NUMBER"))
    if arguments.number is not None:
        _take_in_again(shop, arguments, stamp, came_in)
        return
    if arguments.humidity is not None or arguments.temperature is not None:
        raise CorrectInputError(
            tr("the room's air beside a file"), "", tr("write it into the file, as its room")
        )
    content = piped() if arguments.file == PIPE else file_content(arguments.file)
    brought, record = take_in(
        shop,
        stamp,
        content,
        arguments.file,
        arguments.owner,
        arguments.complaint,
        arguments.whose,
        arguments.instrument,
        came_in,
    )
    known = "" if brought.new_visit else tr(" was here already")
    number, count = brought.visit.number, brought.added_count
    entries = mark("Sheet {number}: {instrument}{known}, {count} new entries.")
    say(tr(entries, number=number, instrument=record.name, known=known, count=count))
    say_asked(asked_of_typed(shop, brought.visit.id), Units("mm"), sheet=brought.visit.number)
