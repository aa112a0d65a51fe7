"""`breakangle visits`: list the visits by state."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import (
    add_shop,
    opened,
)
from breakangle.cli.verbs.visits.visit import STATES
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "visits", help=tr("list the visits by state"), description=tr("List the visits, newest first.")
    )
    verb.add_argument("--state", choices=STATES, help=tr("only these"))
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    from breakangle.services.visit_sheets.sheets import visit_list
    from breakangle.services.visits.visits import local_text

    with opened(arguments) as shop:
        for one in visit_list(shop, arguments.state):
            at = local_text(one.opened_at)
            say(f"{one.number:5}  {at}  {tr(one.state):12}  {one.instrument}  {one.complaint}".rstrip())
    return 0
