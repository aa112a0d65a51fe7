"""`breakangle change`: edit, undo, delete or restore any record."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.edited import told, told_when_edited
from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of
from breakangle.cli.render.typed_options import whole
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "change",
        help=tr("edit, undo, delete or restore any record"),
        description=tr(
            "Show a record with all that stood in it before; or edit it, such as: breakangle "
            "change owner 01mb78qn00a89xba2way notes='pays late' --seen 3"
        ),
    )
    verb.add_argument("kind", metavar="KIND", help=tr("such as owner; a wrong one lists them all"))
    verb.add_argument(
        "record", metavar="RECORD", help=tr("its name, as `breakangle list` or `search` shows it")
    )
    verb.add_argument("words", metavar="NAME=VALUE", nargs="*")
    verb.add_argument(
        "--seen", type=whole, metavar="VERSION", help=tr("refuse if it is not of this version any more")
    )
    verb.add_argument("--undo", action="store_true", help=tr("put back what stood there before"))
    verb.add_argument("--delete", action="store_true", help=tr("delete it; for 30 days it can be restored"))
    verb.add_argument("--undelete", action="store_true", help=tr("restore it"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    with opened(arguments) as shop, told_when_edited():
        _change(shop, arguments)
    return 0


def _change(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.records.edit import bring_back, delete, edit, undo_edit, with_history

    kind, key = arguments.kind, arguments.record
    if arguments.undelete:
        say(told(vars(bring_back(shop, kind, key, stamp_of(arguments)))))
    elif arguments.undo:
        say(told(vars(undo_edit(shop, kind, key, stamp_of(arguments)))))
    elif arguments.delete:
        delete(shop, kind, key, stamp_of(arguments))
        say(
            tr(
                "Deleted; until 30 days from now: breakangle change {kind} {key} --undelete",
                kind=kind,
                key=key,
            )
        )
    elif arguments.words:
        if not all("=" in word for word in arguments.words):
            raise CorrectInputError(tr("a word without ="), "name=value", tr("such as notes='pays late'"))
        typed = dict(word.split("=", 1) for word in arguments.words)
        say(told(vars(edit(shop, kind, key, typed, stamp_of(arguments), arguments.seen))))
    else:
        record, before = with_history(shop, kind, key)
        for one in before:
            say(told(one))
        say(told(vars(record)))
