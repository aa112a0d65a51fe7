"""`breakangle schema`: the JSON Schema of the service file."""

import argparse
from typing import Any

from breakangle.cli.terminal.entry import say


def add(verbs: Any) -> None:
    """Add the verb."""
    verbs.add_parser(
        "schema",
        help="print the service file's JSON Schema",
        description="Print the JSON Schema (2020-12) of the service file, made from the models.",
    )


def run(arguments: argparse.Namespace) -> int:
    """Print the schema."""
    del arguments
    from breakangle.desk.service import schema_text

    say(schema_text())
    return 0
