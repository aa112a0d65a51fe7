"""`breakangle read`: store a reading."""

import argparse
from typing import Any

from breakangle.cli.render.entry_options import add_before, add_words, entered_late, say_entry
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of, visit_of
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "read",
        help=tr("store a reading"),
        description=tr(
            "Store a reading, such as: breakangle read 12 gap string=6 fret=12 held=1 mm=1.8. Or "
            "as the trade says it: relief 6 .012in, action 1 5/64, nut 3 0.10mm."
        ),
    )
    add_words(verb, tr("the quantity, then name=value; or JSON"))
    verb.add_argument("--gauge", metavar="NAME", help=tr("read with this gauge; a new name is a new gauge"))
    add_before(verb)
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Store it and print the entry's name.

    Raises:
        BreakangleError: a value that cannot be right, or a shop that cannot be reached.
    """
    from breakangle.services.readings.entry_words import check_form, reading_words
    from breakangle.services.visit_sheets.sheets import read_with
    from breakangle.services.visits.entries import service_of, take_reading

    stamp = stamp_of(arguments)
    check_form(arguments.words)
    with opened(arguments) as shop:
        visit = visit_of(shop, arguments)
        given = reading_words(arguments.words, service_of(shop, visit.id), as_typed=arguments.as_typed)
        if arguments.gauge is None:
            entry = take_reading(shop, visit.id, given, stamp, before=entered_late(arguments))
        else:
            entry = read_with(shop, visit, given, arguments.gauge, stamp, entered_late(arguments))
    say_entry(entry)
    return 0
