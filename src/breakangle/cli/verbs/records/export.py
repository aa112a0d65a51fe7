"""`breakangle export`: write the whole shop to one zip."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "export",
        help="write the whole shop to one zip",
        description="Write everything to one zip: JSON lines, recordings, photographs, a manifest with hashes.",
    )
    verb.add_argument("file", metavar="FILE", help="the zip to write")
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says and say what was done.

    Raises:
        BreakangleError: a file that cannot be used, or a shop that cannot be reached.
    """
    from breakangle.services.records.upkeep import take_out

    with opened(arguments) as shop:
        say(f"{arguments.file}: {take_out(shop, arguments.file)} records.")
    return 0
