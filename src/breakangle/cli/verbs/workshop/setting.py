"""`breakangle setting`: the shop's currency and tax."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "setting",
        help=tr("the shop's currency and tax"),
        description=tr("Print or set currency, currency_digits, tax_percent, tax_included."),
    )
    verb.add_argument("name", metavar="NAME")
    verb.add_argument("value", metavar="VALUE", nargs="?")
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Print the sheet's lines and totals, or the setting.

    Raises:
        BreakangleError: an amount or a setting that cannot be right.
    """
    from breakangle.services.workshop.prices import set_setting, setting

    with opened(arguments) as shop:
        if arguments.value is not None:
            set_setting(shop, arguments.name, arguments.value, stamp_of(arguments))
        say(setting(shop, arguments.name))
    return 0
