"""`breakangle predict`: gaps and cents at every fret of every string, as the readings have it."""

import argparse
from typing import Any

from breakangle.cli.render.entry import add_file, say
from breakangle.cli.render.request import service_asked
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "predict",
        help=tr("gaps and cents at every fret, with uncertainty"),
        description=tr(
            "Solve the instrument's state from its readings; show gaps and cents all over the board."
        ),
    )
    add_file(verb)
    verb.add_argument("--json", action="store_true", help=tr("the board as JSON (breakangle/prediction/1)"))
    add_units(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print the whole board.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    from breakangle.services.service_files.predict import predict_service

    units = units_asked(arguments)
    service = service_asked(arguments.file, units, arguments.json)
    found = predict_service(service)
    if arguments.json:
        say(found.model_dump_json(indent=2))
        return 0
    from breakangle.cli.render.page import print_page
    from breakangle.cli.render.pages.board import print_board

    print_page(lambda console: print_board(console, service, found, units))
    return 0
