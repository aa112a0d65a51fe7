"""`breakangle list`: print any list as CSV."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "list", help=tr("print any list as CSV"), description=tr("Print any list as CSV, times in UTC.")
    )
    verb.add_argument("name", metavar="NAME", help=tr("such as visits; a wrong one lists them all"))
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print what was asked for.

    Raises:
        BreakangleError: no such list, or a shop that cannot be reached.
    """
    from breakangle.services.overview.exports import csv_text

    with opened(arguments) as shop:
        say(csv_text(shop, arguments.name))
    return 0
