"""`breakangle timeline`: one instrument's visits: what each found and left."""

import argparse
from typing import Any

from breakangle.cli.render.shop_entry import add_number, add_shop, number_of, opened
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "timeline",
        help=tr("one instrument's visits: what each found and left"),
        description=tr(
            "Print every visit of the instrument of a sheet, oldest first: the room's humidity "
            "as it was read, relief, action and the note farthest out of tune as found and as "
            "left, new strings, photographs."
        ),
    )
    add_number(verb)
    add_units(verb)
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print it.

    Raises:
        BreakangleError: no such sheet, or a shop that cannot be reached.
    """
    from breakangle.cli.render.page import print_page
    from breakangle.cli.render.pages.today import print_timeline
    from breakangle.services.history.timeline import timeline_of_sheet

    units = units_asked(arguments)
    with opened(arguments) as shop:
        name, rows = timeline_of_sheet(shop, number_of(arguments))
    print_page(lambda console: print_timeline(console, name, rows, units))
    return 0
