"""`breakangle quote`: minutes and price of a piece of work on a visit's instrument."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, opened, stamp_of, visit_of
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "quote",
        help=tr("minutes and price of a piece of work on a visit's instrument"),
        description=tr(
            "Tell how long a procedure takes by its steps and what the price list has for it; charge it if asked."
        ),
    )
    add_number(verb)
    verb.add_argument("procedure", metavar="PROCEDURE", help=tr("such as refret or nut-making"))
    verb.add_argument("--charge", action="store_true", help=tr("put the first price on the visit's sheet"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Print minutes and prices, and charge the first if asked.

    Raises:
        BreakangleError: no such visit or procedure, or nothing on the price list to charge.
    """
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.procedures.quote import quote
    from breakangle.services.procedures.shelf import procedure
    from breakangle.services.workshop.prices import add_line

    with opened(arguments) as shop:
        visit, of = visit_of(shop, arguments), procedure(arguments.procedure, shop)
        found = quote(shop, visit, of.name, (of.name, str(of.title)))
        say(tr("{title}: about {minutes:.0f} min", title=of.title, minutes=found.minutes))
        for one in found.offers:
            say(
                f"{one.price.kind:7} {one.price.words:30} {one.quantity:f} × {one.price.amount:f} = {one.amount:f}"
            )
        if arguments.charge and not found.offers:
            raise CorrectInputError(
                tr("the price list has nothing for {title}", title=of.title),
                tr("a line that names it, or labour by the hour"),
                tr("add one with breakangle prices --add"),
            )
        if arguments.charge:
            first = found.offers[0]
            told = (first.price.kind, first.price.words, f"{first.price.amount:f}", f"{first.quantity:f}")
            add_line(shop, stamp_of(arguments), visit, *told)
            say(tr("on the sheet: {words}", words=first.price.words))
    return 0
