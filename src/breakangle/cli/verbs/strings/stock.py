"""`breakangle stock`: what lies on the shelf."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.edited import told_when_edited
from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, number_of, opened, stamp_of
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop

MOST_PIECES = 2**31 - 1


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "stock", help=tr("what lies on the shelf"), description=tr("List the shelf; put on it, take from it.")
    )
    verb.add_argument("--add", nargs=3, metavar=("WORDS", "COUNT", "LEAST"), help=tr("something new"))
    moved = verb.add_mutually_exclusive_group()
    moved.add_argument("--take", nargs=2, metavar=("WORDS", "COUNT"), help=tr("take so many"))
    moved.add_argument(
        "--put-back", metavar="WORDS", help=tr("with --for: what that visit took last, and did not use")
    )
    verb.add_argument(
        "--for",
        dest="number",
        metavar="NUMBER",
        help=tr("with --take or --put-back: for the visit with this sheet"),
    )
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    with opened(arguments) as shop, told_when_edited():
        _stock(shop, arguments)
    return 0


def _whole(text: str) -> int:
    from breakangle.model.errors import CorrectInputError
    from breakangle.model.typed_number import whole_within

    number = whole_within(text, -MOST_PIECES, MOST_PIECES)
    if number is None:
        raise CorrectInputError(tr('"{text}" pieces', text=text), tr("a whole number"), tr("such as 3"))
    return number


def _stock(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.records.edit import CALLED, count_typed
    from breakangle.services.strings.shelf import add_stock, count_stock, shelf
    from breakangle.services.visits.used_parts import put_back_by_words, use_by_words

    if arguments.number and not (arguments.take or arguments.put_back):
        raise CorrectInputError(
            tr("--for by itself"), tr("--take or --put-back with it"), tr("say what the visit took")
        )
    if arguments.put_back and not arguments.number:
        raise CorrectInputError(
            tr("--put-back by itself"), tr("--for NUMBER with it"), tr("say which visit took it")
        )
    if arguments.add:
        held = count_typed(arguments.add[1], tr(CALLED["held_count"]))
        least = count_typed(arguments.add[2], tr(CALLED["least_count"]))
        add_stock(shop, stamp_of(arguments), arguments.add[0], held, least)
    if arguments.take and arguments.number:
        words, count = arguments.take
        use_by_words(shop, number_of(arguments), words, _whole(count), stamp_of(arguments))
    elif arguments.put_back:
        put_back_by_words(shop, number_of(arguments), arguments.put_back, stamp_of(arguments))
    elif arguments.take:
        count_stock(shop, stamp_of(arguments), arguments.take[0], -_whole(arguments.take[1]))
    for one, is_low in shelf(shop):
        say(f"{one.held_count:5}  {one.words}{(tr('  (order more)') if is_low else '')}")
