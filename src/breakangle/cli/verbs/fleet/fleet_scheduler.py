"""`breakangle fleet-scheduler`: hands a fleet's work to workers on several machines."""

import argparse
import sys
from typing import Any

from breakangle.cli.render.fleet_keys import add_keys, keys_of
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "fleet-scheduler",
        help=tr("a scheduler for a fleet's work over several machines"),
        description=tr("Run a scheduler that hands a fleet's work to workers until it is interrupted."),
    )
    verb.add_argument(
        "--listen",
        metavar="ADDRESS",
        default="tcp://127.0.0.1:8786",
        help=tr("where it listens (default tcp://127.0.0.1:8786); other machines reach it over tls:// only"),
    )
    add_keys(verb)


def run(arguments: argparse.Namespace) -> int:
    """Run the scheduler until it is interrupted.

    Raises:
        BreakangleError: an address that cannot be used so or is taken, keys that are not there.
    """
    from breakangle.fleet.machines import scheduler

    scheduler(arguments.listen, keys_of(arguments), _tell)
    return 0


def _tell(address: str) -> None:
    sys.stdout.write(tr("listening at {address}; Ctrl+C ends it\n", address=address))
    sys.stdout.flush()
