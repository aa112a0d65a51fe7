"""`breakangle split`: an instrument that was joined to another: make them two again."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, number_of, opened, stamp_of
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "split",
        help=tr("an instrument that was joined to another: make them two again"),
        description=tr(
            "Take an instrument that was joined out again, with all its visits; named by the "
            "number of a sheet that came with it. Visits since stay with the other one."
        ),
    )
    add_number(verb)
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    from breakangle.services.visits.instrument_identity.joining import joining_of_sheet, split_instruments
    from breakangle.services.visits.instrument_identity.similar import seen_together
    from breakangle.services.visits.visits import visit_numbered

    with opened(arguments) as shop:
        visit = visit_numbered(shop, number_of(arguments))
        joined = joining_of_sheet(shop, visit).joined.id
        record = split_instruments(shop, joined, stamp_of(arguments))
        say(
            tr("Split: {seen_together_words}.", seen_together_words=seen_together(shop, [record.id])[0].words)
        )
    return 0
