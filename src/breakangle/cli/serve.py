"""`serve`: the bench app, in a browser."""

import argparse
from typing import Any

from breakangle.cli.terminal.entry import say


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "serve",
        help="the bench app, in a browser",
        description="Serve the bench app to the browser of this computer, until interrupted with Ctrl+C.",
    )
    verb.add_argument("--port", type=int, default=8320, help="of this computer (8320)")
    verb.add_argument("--open", action="store_true", help="open a browser on it")
    verb.add_argument(
        "--example-first", action="store_true", help="where the shop is new, make the example workshop and open there"
    )


def run(arguments: argparse.Namespace) -> int:
    """Serve until interrupted.

    Raises:
        BreakangleError: the port or the shop's folder cannot be had.
    """
    import os

    from breakangle.desk.shop_open import URL_NAME, data_folder
    from breakangle.web.first_run import first_page
    from breakangle.web.options import Options
    from breakangle.web.server import serve

    options = Options(data_folder(), os.environ.get(URL_NAME) or None, port=arguments.port)
    at = first_page(options, arguments.example_first)
    serve(options, lambda address: say(f"Breakangle is at {address}{at}  (Ctrl+C ends it)"), at if arguments.open else None)
    return 0
