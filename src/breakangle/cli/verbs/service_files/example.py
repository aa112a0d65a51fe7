"""`breakangle example`: a service file to start from."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its argument."""
    verb = verbs.add_parser(
        "example",
        help=tr("print a service file to start from"),
        description=(
            tr(
                "Print an invented instrument's service file with readings from the bench; or, for a "
                "KIND of instrument, one in its usual sizes with nothing read yet."
            )
        ),
    )
    verb.add_argument(
        "kind", metavar="KIND", nargs="?", help=tr("such as bass-four; a wrong one lists them all")
    )


def run(arguments: argparse.Namespace) -> int:
    """Print the file.

    Raises:
        CorrectInputError: a kind of instrument that the tables do not know.
    """
    from breakangle.services.service_files.example import example_text

    say(example_text(arguments.kind))
    return 0
