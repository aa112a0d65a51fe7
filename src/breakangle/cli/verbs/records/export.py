"""`breakangle export`: write the whole shop to one zip."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "export",
        help=tr("write the whole shop to one zip"),
        description=tr(
            "Write everything to one zip: JSON lines, recordings, photographs, a manifest with hashes."
        ),
    )
    verb.add_argument("file", metavar="FILE", help=tr("the zip to write"))
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says and say what was done.

    Raises:
        BreakangleError: a file that cannot be used, or a shop that cannot be reached.
    """
    from breakangle.services.records.upkeep import take_out

    with opened(arguments) as shop:
        say(tr("{file}: {take_out} records.", file=arguments.file, take_out=take_out(shop, arguments.file)))
    return 0
