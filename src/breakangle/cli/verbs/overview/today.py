"""`breakangle today`: the work by state, what is due, what to order, the last backup."""

import argparse
from typing import Any

from breakangle.cli.render.shop_entry import add_shop, now, opened
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "today",
        help=tr("the work by state, what is due, what to order, the last backup"),
        description=tr(
            "Print the visits by state, what comes due in the next 30 days or is overdue, what "
            "is to be ordered, and when the last backup was made."
        ),
    )
    add_units(verb)
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print it.

    Raises:
        BreakangleError: no such sheet, or a shop that cannot be reached.
    """
    from breakangle.cli.render.page import print_page
    from breakangle.cli.render.pages.today import print_today
    from breakangle.services.overview.today import today

    units = units_asked(arguments)
    with opened(arguments) as shop:
        day = today(shop, now())
    print_page(lambda console: print_today(console, day, units))
    return 0
