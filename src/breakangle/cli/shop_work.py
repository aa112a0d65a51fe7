"""`read`, `work`, `correct`, `undo`: what happens at the bench, stored when it happens."""

import argparse
from typing import Any

from breakangle.cli.terminal.entry import report_strange, say
from breakangle.cli.terminal.shop_entry import add_number, add_shop, opened, stamp_of, typed, visit_of


def add(verbs: Any) -> None:
    """Add the verbs and their options."""
    verb = verbs.add_parser(
        "read",
        help="store a reading",
        description="Store a reading, such as: breakangle read 12 gap string=6 fret=12 held=1 mm=1.8",
    )
    add_number(verb)
    verb.add_argument("words", metavar="WORD", nargs="+", help="the quantity, then name=value; or JSON")
    verb.add_argument("--gauge", metavar="NAME", help="read with this gauge; a new name is a new gauge")
    add_shop(verb, writes=True)
    verb = verbs.add_parser(
        "work",
        help="store an adjustment that was made",
        description="Store an adjustment that was made, such as: breakangle work 12 rod turns=0.25",
    )
    add_number(verb)
    verb.add_argument("words", metavar="WORD", nargs="+", help="the adjustment, then name=value; or JSON")
    add_shop(verb, writes=True)
    verb = verbs.add_parser(
        "correct",
        help="put another reading or adjustment in the place of one",
        description="Supersede an entry, with the reason; the old one is kept. Without WORD: it no longer counts.",
    )
    verb.add_argument("entry", metavar="ENTRY", help="its name, as `breakangle visit` shows it")
    verb.add_argument("words", metavar="WORD", nargs="*", help="what stands instead")
    verb.add_argument("--reason", required=True, help="why")
    add_shop(verb, writes=True)
    verb = verbs.add_parser(
        "undo", help="take an entry back", description="Take an entry back: what it superseded stands again."
    )
    verb.add_argument("entry", metavar="ENTRY", help="its name, as `breakangle visit` shows it")
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Store it and print the entry's name.

    Raises:
        BreakangleError: a value that cannot be right, or a shop that cannot be reached.
    """
    from breakangle.desk.shop_readings import correct, do_adjustment, take_reading, undo
    from breakangle.desk.shop_sheets import entry_kind, read_with, strange_keys

    stamp = stamp_of(arguments)
    with opened(arguments) as shop:
        if arguments.verb == "read":
            given, visit = typed(arguments.words, "quantity"), visit_of(shop, arguments)
            if arguments.gauge is None:
                entry = take_reading(shop, visit.id, given, stamp)
            else:
                entry = read_with(shop, visit, given, arguments.gauge, stamp)
        elif arguments.verb == "work":
            given = typed(arguments.words, "adjust")
            entry = do_adjustment(shop, visit_of(shop, arguments).id, given, stamp)
        elif arguments.verb == "undo":
            entry = undo(shop, arguments.entry, stamp)
        else:
            name = "quantity" if entry_kind(shop, arguments.entry) == "reading" else "adjust"
            instead = typed(arguments.words, name) if arguments.words else None
            entry = correct(shop, arguments.entry, instead, arguments.reason, stamp)
    say(f"{entry.id} {entry.body or 'withdrawn'}")
    report_strange(strange_keys(entry))
    return 0
