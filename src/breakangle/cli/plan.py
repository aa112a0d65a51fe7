"""`breakangle plan`: what to adjust, by how much, in which order and why."""

import argparse
from typing import Any

from breakangle.cli.terminal.entry import add_file, say, service_in
from breakangle.cli.terminal.units import add_units, units_asked

BEYOND_SETUP = 1


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "plan",
        help="the fewest adjustments, in order, with reasons and expected readings",
        description="Solve the instrument's state from its readings; plan the fewest adjustments in order.",
        epilog="exit codes: 0 leave it or adjust, 1 beyond a set-up, 2 the file cannot be right",
    )
    add_file(verb)
    verb.add_argument("--json", action="store_true", help="the plan as JSON (breakangle/plan/1)")
    add_units(verb)
    verb.add_argument("--hand", choices=("light", "medium", "heavy"), help="house targets for this hand")
    verb.add_argument(
        "--no-buzz-at", choices=("light", "medium", "heavy"), help="no string may touch a crown, played so"
    )
    verb.add_argument(
        "--earlier",
        metavar="FILE",
        nargs="+",
        default=[],
        help="earlier visits of the same instrument, oldest first: what its neck does is learned",
    )


def run(arguments: argparse.Namespace) -> int:
    """Print the plan and return the exit code: 1 where the verdict is beyond a set-up.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    from breakangle.desk.service import plan_service

    units = units_asked(arguments)
    service = service_in(arguments.file)
    earlier = [service_in(one) for one in arguments.earlier]
    plan = plan_service(service, arguments.hand, earlier, arguments.no_buzz_at)
    if arguments.json:
        say(plan.text())
    else:
        from breakangle.cli.terminal.page import print_page
        from breakangle.cli.terminal.plan_page import print_plan

        print_page(lambda console: print_plan(console, service, plan, units))
    return BEYOND_SETUP if plan.verdict == "beyond-setup" else 0
