"""`breakangle prices`: the price list."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.edited import told_when_edited
from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "prices", help=tr("the price list"), description=tr("Print the price list, or add to it.")
    )
    verb.add_argument("--add", nargs=3, metavar=("KIND", "WORDS", "AMOUNT"), help=tr("labour or part"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    with opened(arguments) as shop, told_when_edited():
        _prices(shop, arguments)
    return 0


def _prices(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.services.workshop.prices import add_price, price_list

    if arguments.add:
        add_price(shop, stamp_of(arguments), *arguments.add)
    for one in price_list(shop):
        say(f"{one.kind:7} {one.words:30} {one.amount:f}")
