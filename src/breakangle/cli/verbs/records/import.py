"""`breakangle import`: merge a whole-shop zip into the shop."""

# ruff: noqa: N999 - a verb's file has the verb's name, and nothing imports it by a statement.

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "import",
        help=tr("merge a whole-shop zip into the shop"),
        description=tr("Merge a zip written by `export`: nothing is doubled, nothing overwritten silently."),
    )
    verb.add_argument("file", metavar="FILE", help=tr("the zip to read"))
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says and say what was done.

    Raises:
        BreakangleError: a file that cannot be used, or a shop that cannot be reached.
    """
    from breakangle.services.records.upkeep import merge_in

    with opened(arguments) as shop:
        done = merge_in(shop, arguments.file)
    say(
        tr(
            "{added_count} records are new, {updated_count} were brought up to date.",
            added_count=done.added_count,
            updated_count=done.updated_count,
        )
    )
    for old, new in done.renumbered.items():
        say(tr("Sheet {old} there is sheet {new} here.", old=old, new=new))
    for one in done.kept:
        say(tr("{item} differs there; yours was kept.", item=one))
    for number in done.opened:
        say(tr("Sheet {number} was closed, and more came to it: it is open for an amendment.", number=number))
    return 0
