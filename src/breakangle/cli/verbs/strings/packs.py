"""`breakangle packs`: strings on the shelf, packs and singles, with cost and what runs low."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop

THICKEST_PLAIN_MM = 0.52  # above .020 in a steel string is taken as wound, unless its make is typed


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "packs",
        help=tr("strings on the shelf: packs and singles, cost, what runs low"),
        description=tr(
            "List the strings on the shelf, or put some there: --add WORDS COUNT LEAST with "
            "--sizes, string 1 first. A size may name its make, as .020in:wound-steel; else "
            "thick ones are wound steel, thin ones plain."
        ),
    )
    verb.add_argument("--add", nargs=3, metavar=("WORDS", "COUNT", "LEAST"), help=tr("new packs or singles"))
    verb.add_argument(
        "--sizes", nargs="+", metavar="SIZE", help=tr("with --add: one is a single, more a pack")
    )
    verb.add_argument("--cost", metavar="AMOUNT", help=tr("with --add: what one costs"))
    verb.add_argument("--low", action="store_true", help=tr("only what is to be ordered"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Print the shelf of strings.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    from breakangle.services.strings.stock import low_strings, strings_on_shelf

    with opened(arguments) as shop:
        if arguments.add:
            _add(shop, arguments)
        lying = strings_on_shelf(shop)
        for one in low_strings(lying) if arguments.low else lying:
            cost = "" if one.cost is None else tr("  {cost:f} each", cost=one.cost)
            order = tr("  (order more)") if one.low else ""
            say(f"{one.record.held_count:5}  {one.stock.kind:6}  {one.record.words}{cost}{order}")
    return 0


def _add(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.records.edit import CALLED, count_typed
    from breakangle.services.strings.stock import add_strings
    from breakangle.services.workshop.prices import currency_digits, exact_amount

    words = arguments.add[0]
    if not arguments.sizes:
        raise CorrectInputError(tr("no size is given"), tr("--sizes .010in, or a whole set, string 1 first"))
    held = count_typed(arguments.add[1], tr(CALLED["held_count"]))
    least = count_typed(arguments.add[2], tr(CALLED["least_count"]))
    strings = [_string(text) for text in arguments.sizes]
    kind = "single" if len(strings) == 1 else "pack"
    if kind == "pack":
        strings = [one | {"string": number} for number, one in enumerate(strings, start=1)]
    stock: dict[str, Any] = {"kind": kind, "strings": strings}
    if arguments.cost is not None:
        stock["cost"] = f"{exact_amount(arguments.cost, tr('the cost'), currency_digits(shop)):f}"
    add_strings(shop, stamp_of(arguments), words, stock, held, least)


def _string(text: str) -> dict[str, Any]:
    from breakangle.model.measure import parse_length
    from breakangle.services.typed_values.sizes import STRING_MM

    size, _, make = text.partition(":")
    diameter = round(parse_length(size, "mm", *STRING_MM).mm, 4)
    usual = "plain-steel" if diameter <= THICKEST_PLAIN_MM else "wound-steel"
    return {"make": make or usual, "diameter_mm": diameter}
