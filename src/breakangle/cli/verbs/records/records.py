"""`change`, `stock`, `prices`, `targets`: every other record of the shop."""

import argparse
import json
import sys
from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, number_of, opened, stamp_of

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verbs and their options."""
    verb = verbs.add_parser(
        "change",
        help="edit, undo, delete or restore any record",
        description="Show a record with all that stood in it before; or edit it, such as: breakangle change owner "
        "01mb78qn00a89xba2way notes='pays late' --seen 3",
    )
    verb.add_argument("kind", metavar="KIND", help="such as owner; a wrong one lists them all")
    verb.add_argument("record", metavar="RECORD", help="its name, as `breakangle list` or `search` shows it")
    verb.add_argument("words", metavar="NAME=VALUE", nargs="*")
    verb.add_argument(
        "--seen", type=int, metavar="VERSION", help="refuse if it is not of this version any more"
    )
    verb.add_argument("--undo", action="store_true", help="put back what stood there before")
    verb.add_argument("--delete", action="store_true", help="delete it; for 30 days it can be restored")
    verb.add_argument("--undelete", action="store_true", help="restore it")
    add_shop(verb, writes=True)
    _add_shelf(verbs)
    verb = verbs.add_parser(
        "prices", help="the price list", description="Print the price list, or add to it."
    )
    verb.add_argument("--add", nargs=3, metavar=("KIND", "WORDS", "AMOUNT"), help="labour or part")
    add_shop(verb, writes=True)
    verb = verbs.add_parser(
        "targets",
        help="what is wanted of an instrument from its next visit on",
        description="Keep targets with the instrument of a sheet, as in a service file: its coming visits have them.",
    )
    add_number(verb)
    verb.add_argument("targets", metavar="JSON", help='such as {"hand": "light"}; null for the house\'s')
    add_shop(verb, writes=True)


def _add_shelf(verbs: Any) -> None:
    verb = verbs.add_parser(
        "stock", help="what lies on the shelf", description="List the shelf; put on it, take from it."
    )
    verb.add_argument("--add", nargs=3, metavar=("WORDS", "COUNT", "LEAST"), help="something new")
    moved = verb.add_mutually_exclusive_group()
    moved.add_argument("--take", nargs=2, metavar=("WORDS", "COUNT"), help="take so many")
    moved.add_argument(
        "--put-back", metavar="WORDS", help="with --for: what that visit took last, and did not use"
    )
    verb.add_argument(
        "--for",
        dest="number",
        metavar="NUMBER",
        help="with --take or --put-back: for the visit with this sheet",
    )
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    from breakangle.storage.schema.errors import EditedMeanwhileError

    todo = {"change": _change, "stock": _stock, "prices": _prices, "targets": _targets}[arguments.verb]
    with opened(arguments) as shop:
        try:
            todo(shop, arguments)
        except EditedMeanwhileError as both:
            yours = both.yours if isinstance(both.yours, Mapping) else {}
            sys.stderr.write(f"there: {_told(vars(both.theirs))}\nyours: {_told(yours)}\n")
            raise
    return 0


def _change(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.records.edit import bring_back, delete, edit, undo_edit, with_history

    kind, key = arguments.kind, arguments.record
    if arguments.undelete:
        say(_told(vars(bring_back(shop, kind, key, stamp_of(arguments)))))
    elif arguments.undo:
        say(_told(vars(undo_edit(shop, kind, key, stamp_of(arguments)))))
    elif arguments.delete:
        delete(shop, kind, key, stamp_of(arguments))
        say(f"Deleted; until 30 days from now: breakangle change {kind} {key} --undelete")
    elif arguments.words:
        if not all("=" in one for one in arguments.words):
            raise CorrectInputError("a word without =", "name=value", "such as notes='pays late'")
        typed = dict(one.split("=", 1) for one in arguments.words)
        say(_told(vars(edit(shop, kind, key, typed, stamp_of(arguments), arguments.seen))))
    else:
        record, before = with_history(shop, kind, key)
        for one in before:
            say(_told(one))
        say(_told(vars(record)))


def _told(values: Mapping[str, Any]) -> str:
    """Return what stands in a record, each value by its name; what is empty is left out, times are the clock's here."""
    from breakangle.services.visits.visits import local_text

    shown = {name: local_text(one) if isinstance(one, datetime) else one for name, one in values.items()}
    said = {name: repr(one) if isinstance(one, str) else one for name, one in shown.items()}
    return ", ".join(f"{name}={one}" for name, one in said.items() if one is not None)


def _whole(text: str) -> int:
    from breakangle.model.errors import CorrectInputError

    try:
        return int(text)
    except ValueError as cause:
        raise CorrectInputError(f'"{text}" pieces', "a whole number", "such as 3") from cause


def _stock(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.records.edit import CALLED, count_typed
    from breakangle.services.strings.shelf import add_stock, count_stock, shelf
    from breakangle.services.visits.used_parts import put_back_by_words, use_by_words

    if arguments.number and not (arguments.take or arguments.put_back):
        raise CorrectInputError("--for by itself", "--take or --put-back with it", "say what the visit took")
    if arguments.put_back and not arguments.number:
        raise CorrectInputError("--put-back by itself", "--for NUMBER with it", "say which visit took it")
    if arguments.add:
        held = count_typed(arguments.add[1], CALLED["held_count"])
        least = count_typed(arguments.add[2], CALLED["least_count"])
        add_stock(shop, stamp_of(arguments), arguments.add[0], held, least)
    if arguments.take and arguments.number:
        words, count = arguments.take
        use_by_words(shop, number_of(arguments), words, _whole(count), stamp_of(arguments))
    elif arguments.put_back:
        put_back_by_words(shop, number_of(arguments), arguments.put_back, stamp_of(arguments))
    elif arguments.take:
        count_stock(shop, stamp_of(arguments), arguments.take[0], -_whole(arguments.take[1]))
    for one, is_low in shelf(shop):
        say(f"{one.held_count:5}  {one.words}{'  (order more)' if is_low else ''}")


def _prices(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.services.workshop.prices import add_price, price_list

    if arguments.add:
        add_price(shop, stamp_of(arguments), *arguments.add)
    for one in price_list(shop):
        say(f"{one.kind:7} {one.words:30} {one.amount:f}")


def _targets(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.strings.shelf import set_targets_of_sheet

    try:
        wanted = json.loads(arguments.targets)
    except json.JSONDecodeError as cause:
        raise CorrectInputError(
            f"this is not JSON: {cause.msg.lower()}", "", 'such as {"hand": "light"}'
        ) from cause
    if not isinstance(wanted, dict | None):
        raise CorrectInputError(f"{arguments.targets}", "an object or null", 'such as {"hand": "light"}')
    kept = set_targets_of_sheet(shop, number_of(arguments), wanted, stamp_of(arguments))
    say(f"{kept.name}: {kept.targets or 'the house targets'}")
