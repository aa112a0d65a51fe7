"""`breakangle fleet-worker`: one worker for a fleet's scheduler."""

import argparse
import sys
from typing import Any

from breakangle.cli.render.fleet_keys import add_keys, keys_of
from breakangle.cli.render.typed_options import whole
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "fleet-worker",
        help=tr("one worker for a fleet's scheduler; start one a core"),
        description=tr("Run a worker of one thread for a fleet's scheduler until it is interrupted."),
    )
    verb.add_argument("address", metavar="ADDRESS", help=tr("the scheduler's address"))
    verb.add_argument("--host", metavar="ADDRESS", help=tr("this machine's own address for the others"))
    verb.add_argument(
        "--memory", type=whole, default=1500, metavar="MB", help=tr("what it may take (default 1500)")
    )
    add_keys(verb)


def run(arguments: argparse.Namespace) -> int:
    """Run the worker until it is interrupted.

    Raises:
        BreakangleError: an address that cannot be used so, keys that are not there, no scheduler.
    """
    from breakangle.fleet.machines import worker

    worker(arguments.address, keys_of(arguments), arguments.host, arguments.memory, _tell)
    return 0


def _tell(address: str) -> None:
    sys.stdout.write(tr("at work for {address}; Ctrl+C ends it\n", address=address))
    sys.stdout.flush()
