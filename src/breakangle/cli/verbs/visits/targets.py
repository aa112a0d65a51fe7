"""`breakangle targets`: what is wanted of an instrument from its next visit on."""

import argparse
import json
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.edited import told_when_edited
from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, number_of, opened, stamp_of
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "targets",
        help=tr("what is wanted of an instrument from its next visit on"),
        description=tr(
            "Keep targets with the instrument of a sheet, as in a service file: its coming visits have them."
        ),
    )
    add_number(verb)
    verb.add_argument("targets", metavar="JSON", help=tr('such as {"hand": "light"}; null for the house\'s'))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    with opened(arguments) as shop, told_when_edited():
        _targets(shop, arguments)
    return 0


def _targets(shop: "Shop", arguments: argparse.Namespace) -> None:
    from breakangle.model.errors import CorrectInputError
    from breakangle.model.json_text import json_trouble
    from breakangle.services.strings.shelf import set_targets_of_sheet

    try:
        wanted = json.loads(arguments.targets)
    except json.JSONDecodeError as cause:
        raise CorrectInputError(
            tr("this is not JSON: {msg}", msg=json_trouble(cause)), "", tr('such as {"hand": "light"}')
        ) from cause
    if not isinstance(wanted, dict | None):
        raise CorrectInputError(
            f"{arguments.targets}", tr("an object or null"), tr('such as {"hand": "light"}')
        )
    kept = set_targets_of_sheet(shop, number_of(arguments), wanted, stamp_of(arguments))
    say(f"{kept.name}: {kept.targets or tr('the house targets')}")
