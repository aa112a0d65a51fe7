"""`breakangle due`: what comes due, from drift, the strings' age and playing."""

import argparse
from datetime import timedelta
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, now, opened
from breakangle.cli.render.typed_options import whole
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr

MOST_DAYS = 36_500  # a hundred years


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "due",
        help=tr("what comes due, from drift, the strings' age and playing"),
        description=tr("List what comes due, soonest first; or write it as a calendar (RFC 5545)."),
    )
    verb.add_argument("--days", type=whole, default=90, help=tr("so far ahead (90)"))
    verb.add_argument("--calendar", action="store_true", help=tr("as a calendar"))
    add_units(verb)
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print what was asked for.

    Raises:
        BreakangleError: no such list, or a shop that cannot be reached.
    """
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.history.drift import due
    from breakangle.services.overview.exports import calendar_text

    units = units_asked(arguments)
    with opened(arguments) as shop:
        if abs(arguments.days) > MOST_DAYS:
            raise CorrectInputError(
                tr("{days} days", days=arguments.days),
                tr("{most_days} at most", most_days=MOST_DAYS),
                tr("such as 90"),
            )
        coming = due(shop, now().date() + timedelta(days=arguments.days))
        if arguments.calendar:
            say(calendar_text(coming, now()))
        for what in () if arguments.calendar else coming:
            say(f"{what.on}  {what.instrument.name}: {tr(what.what)}, {units.sentence(what.why)}")
    return 0
