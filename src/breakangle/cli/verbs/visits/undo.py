"""`breakangle undo`: take an entry back."""

import argparse
from typing import Any

from breakangle.cli.render.entry_options import say_entry
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "undo",
        help=tr("take an entry back"),
        description=tr("Take an entry back: what it superseded stands again."),
    )
    verb.add_argument("entry", metavar="ENTRY", help=tr("its name, as `breakangle visit` shows it"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Store it and print the entry's name.

    Raises:
        BreakangleError: a value that cannot be right, or a shop that cannot be reached.
    """
    from breakangle.services.visits.entries import undo

    with opened(arguments) as shop:
        entry = undo(shop, arguments.entry, stamp_of(arguments))
    say_entry(entry)
    return 0
