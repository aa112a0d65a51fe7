"""`breakangle fleet-keys`: the certificates of a fleet's machines."""

import argparse
import sys
from typing import Any


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "fleet-keys",
        help="make the certificates of a fleet's machines",
        description="Make an authority and one certificate under it. Whoever holds them can run code on every worker.",
    )
    verb.add_argument(
        "folder", metavar="FOLDER", help="a new folder; carry it to every machine, keep it secret"
    )


def run(arguments: argparse.Namespace) -> int:
    """Make the keys.

    Raises:
        ChooseAnotherFileError: there are keys already, or the folder cannot be written.
    """
    from breakangle.fleet.keys import make_keys

    made = make_keys(arguments.folder)
    sys.stdout.write(f"{made.authority.parent}: carry it to every machine; who has it can run code there.\n")
    return 0
