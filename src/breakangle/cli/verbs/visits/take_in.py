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

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "take-in",
        help="store a service file as a visit, or open a visit of an instrument that has been here",
        description="Store a service file as a visit of its instrument; the same file twice is one visit. Or, with "
        "--again, open a new visit of the instrument of an earlier sheet.",
    )
    verb.add_argument("file", metavar="FILE", nargs="?", help="a service file, or - for a pipe")
    verb.add_argument("--again", dest="number", metavar="NUMBER", help="the number of an earlier sheet")
    verb.add_argument("--complaint", default="", help="what the owner says is wrong")
    verb.add_argument(
        "--owner", metavar="NAME", help="with a file: whose it is; a name that may be here is asked about"
    )
    verb.add_argument(
        "--whose", metavar="RECORD", default="", help="with --owner, where asked: same, new, or a record"
    )
    verb.add_argument(
        "--instrument",
        metavar="NUMBER",
        default="",
        help="with a file, where asked whether the instrument is here already: a sheet of its, or new",
    )
    verb.add_argument(
        "--on", metavar="DAY", default="", help="the day it came in, as 2027-03-01, where that was earlier"
    )
    verb.add_argument("--humidity", metavar="PERCENT", type=number, help="with --again: of the room")
    verb.add_argument("--temperature", metavar="C", type=number, help="with --again: of the room")
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    with opened(arguments) as shop:
        _take_in(shop, arguments)
    return 0


def _take_in(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.cli.render.request import say_asked
    from breakangle.cli.render.units import Units
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.plans.solved_visits import asked_of_typed
    from breakangle.services.typed_values.past_days import day_typed
    from breakangle.services.visit_sheets.sheets import file_content, take_in, take_in_again

    stamp = stamp_of(arguments)
    came_in = day_typed(arguments.on, stamp.at)
    if (arguments.file is None) == (arguments.number is None):
        given = "neither a file nor --again" if arguments.file is None else "a file and --again"
        raise CorrectInputError(given, "one of the two", "give a service file, or --again NUMBER")
    if arguments.number is not None:
        if arguments.owner is not None:
            given = "--owner with --again: the instrument has its owner already"
            raise CorrectInputError(given, "", "breakangle change instrument, with owner_id=")
        air = arguments.temperature, arguments.humidity
        visit, record = take_in_again(shop, stamp, number_of(arguments), arguments.complaint, *air, came_in)
        say(f"Sheet {visit.number}: {record.name}, waiting.")
        return
    if arguments.humidity is not None or arguments.temperature is not None:
        raise CorrectInputError("the room's air beside a file", "", "write it into the file, as its room")
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
    known = "" if brought.new_visit else " was here already"
    say(f"Sheet {brought.visit.number}: {record.name}{known}, {brought.added_count} new entries.")
    say_asked(asked_of_typed(shop, brought.visit.id), Units("mm"), sheet=brought.visit.number)
