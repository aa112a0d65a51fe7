"""`breakangle fleet-keys`: the certificates of a fleet's machines."""

import argparse
import sys
from typing import Any

from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "fleet-keys",
        help=tr("make the certificates of a fleet's machines"),
        description=tr(
            "Make an authority and one certificate under it. Whoever holds them can run code on every worker."
        ),
    )
    verb.add_argument(
        "folder", metavar="FOLDER", help=tr("a new folder; carry it to every machine, keep it secret")
    )


def run(arguments: argparse.Namespace) -> int:
    """Make the keys.

    Raises:
        ChooseAnotherFileError: there are keys already, or the folder cannot be written.
    """
    from breakangle.fleet.keys import make_keys

    made = make_keys(arguments.folder)
    sys.stdout.write(
        tr(
            "{parent}: carry it to every machine; who has it can run code there.\n",
            parent=made.authority.parent,
        )
    )
    return 0
