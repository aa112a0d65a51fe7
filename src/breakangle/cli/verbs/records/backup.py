"""`breakangle backup`: a verified copy of the shop, made while others work."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, now, opened
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "backup",
        help=tr("make a verified backup of the shop"),
        description=tr(
            "Copy the whole shop, of a file or on a server; it is called done only when opened "
            "again, checked and counted. One is made by itself every day; old ones are let go "
            "of: one a day for a week, a week for five, a month for a year."
        ),
    )
    verb.add_argument("--to", metavar="FOLDER", help=tr("another folder, such as one on another disk"))
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Make it and say what it holds.

    Raises:
        BreakangleError: it cannot be made.
    """
    from breakangle.services.records.upkeep import back_up

    with opened(arguments) as shop:
        made = back_up(shop, now(), arguments.to)
    rows = sum(made.counts.values())
    say(
        tr(
            "{path}: {rows} records and {blobs} files, opened and checked.",
            path=made.path,
            rows=rows,
            blobs=made.blobs,
        )
    )
    return 0
