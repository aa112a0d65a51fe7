"""`breakangle import`: merge a whole-shop zip into the shop."""

# ruff: noqa: N999 - a verb's file has the verb's name, and nothing imports it by a statement.

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "import",
        help="merge a whole-shop zip into the shop",
        description="Merge a zip written by `export`: nothing is doubled, nothing overwritten silently.",
    )
    verb.add_argument("file", metavar="FILE", help="the zip to read")
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says and say what was done.

    Raises:
        BreakangleError: a file that cannot be used, or a shop that cannot be reached.
    """
    from breakangle.services.records.upkeep import merge_in

    with opened(arguments) as shop:
        done = merge_in(shop, arguments.file)
    say(f"{done.added_count} records are new, {done.updated_count} were brought up to date.")
    for old, new in done.renumbered.items():
        say(f"Sheet {old} there is sheet {new} here.")
    for one in done.kept:
        say(f"{one} differs there; yours was kept.")
    return 0
