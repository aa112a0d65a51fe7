"""`breakangle bill`: a visit's labour and parts, and what they come to."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, opened, stamp_of, visit_of
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "bill",
        help=tr("a visit's labour and parts, and what they come to"),
        description=tr("Add a line to a visit's sheet, if one is given, and print what the sheet comes to."),
    )
    add_number(verb)
    verb.add_argument("--labour", nargs=2, metavar=("WORDS", "AMOUNT"), help=tr("add labour"))
    verb.add_argument(
        "--part", nargs=2, metavar=("WORDS", "AMOUNT"), help=tr("add a part, its price for one")
    )
    verb.add_argument("--quantity", default="1", help=tr("of what is added (1)"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Print the sheet's lines and totals, or the setting.

    Raises:
        BreakangleError: an amount or a setting that cannot be right.
    """
    from breakangle.services.workshop.prices import add_line, bill

    with opened(arguments) as shop:
        visit = visit_of(shop, arguments)
        for kind, given in (("labour", arguments.labour), ("part", arguments.part)):
            if given is not None:
                add_line(shop, stamp_of(arguments), visit, kind, given[0], given[1], arguments.quantity)
        found = bill(shop, visit)
    for line, amount in found.lines:
        say(f"{line.kind:7} {line.words:30} {line.quantity:f} × {line.amount:f} = {amount}")
    say(
        tr(
            "net {net}, tax {tax_percent:f} % {tax}, total {total} {currency}",
            net=found.net,
            tax_percent=found.tax_percent,
            tax=found.tax,
            total=found.total,
            currency=found.currency,
        )
    )
    return 0
