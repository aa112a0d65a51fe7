"""`breakangle schema`: the JSON Schema of the service file and of a plan."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.model.words.speech import tr

SERVICE, PLAN, OLD_PLAN = "service", "plan", "plan/1"


def add(verbs: Any) -> None:
    """Add the verb."""
    verb = verbs.add_parser(
        "schema",
        help=tr("print the JSON Schema of the service file, or of a plan"),
        description=tr(
            "Print the JSON Schema (2020-12) of the service file or of a plan, made from the models."
        ),
    )
    verb.add_argument(
        "of",
        nargs="?",
        choices=(SERVICE, PLAN, OLD_PLAN),
        default=SERVICE,
        help=tr("of what: the service file (else), a plan as printed now, or the older form of a plan"),
    )


def run(arguments: argparse.Namespace) -> int:
    """Print the schema."""
    from breakangle.services.service_files.service import plan_schema_text, schema_text

    if arguments.of == SERVICE:
        say(schema_text())
    else:
        say(plan_schema_text("plan/1" if arguments.of == OLD_PLAN else "plan/2"))
    return 0
