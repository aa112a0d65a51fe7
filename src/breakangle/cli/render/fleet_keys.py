"""The certificates of a fleet's machines, as verbs take them."""

import argparse
from typing import TYPE_CHECKING

from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.fleet.keys import Keys


def add_keys(verb: argparse.ArgumentParser) -> None:
    """Give `verb` its option `--keys`."""
    verb.add_argument("--keys", metavar="FOLDER", help=tr("the fleet's certificates (fleet-keys makes them)"))


def keys_of(arguments: argparse.Namespace) -> "Keys | None":
    """Return the keys that were named; None where none were.

    Raises:
        ChooseAnotherFileError: a folder that lacks one of the files.
    """
    from breakangle.fleet.keys import keys_in

    return keys_in(arguments.keys) if arguments.keys else None
