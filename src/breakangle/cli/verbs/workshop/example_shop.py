"""`breakangle example-shop`: make or remove the example workshop."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import now
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "example-shop",
        help=tr("make or remove the example workshop"),
        description=tr(
            "Make an invented workshop of two years beside your own shop, or remove it whole. "
            "Every verb of the shop works on it with --example."
        ),
    )
    verb.add_argument("what", choices=("load", "remove"))


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says and say what was done.

    Raises:
        BreakangleError: a file that cannot be used, or a shop that cannot be reached.
    """
    return _example(arguments.what)


def _example(what: str) -> int:
    from breakangle.services.example_workshop.workshop import load_example, remove_example
    from breakangle.services.workshop.opening import where

    if what == "load":
        say(
            tr(
                "{load_example}: made. Try: breakangle visits --example",
                load_example=load_example(where().folder, now()),
            )
        )
    else:
        remove_example(where().folder)
        say(tr("The example workshop is removed."))
    return 0
