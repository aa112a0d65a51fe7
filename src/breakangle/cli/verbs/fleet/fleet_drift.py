"""`breakangle fleet-drift`: whether what leaves a maker's line drifts."""

import argparse
import sys
from typing import Any

DRIFTED = 1


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "fleet-drift",
        help="whether a maker's line drifts: control charts of a run of `fleet figures`",
        description="Control charts by quantity over instruments in the order of their names: single values against "
        "three deviations, and a cumulative sum that finds a shift of one deviation.",
        epilog="exit codes: 0 nothing has drifted, 1 something has, 2 what was given cannot be right",
    )
    verb.add_argument("folder", metavar="FOLDER", help="the folder of a run of the job figures")


def run(arguments: argparse.Namespace) -> int:
    """Print the charts in words; return 1 where something drifted.

    Raises:
        BreakangleError: a folder that holds no figures, or too few.
    """
    from breakangle.fleet.drift import drifts_in

    found = drifts_in(arguments.folder)
    for one in found:
        sys.stdout.write(
            f"{one.figure}: {len(one.items)} instruments, {one.centre:+.3g} ± {one.deviation:.2g} {one.unit} "
            f"from what is wanted, {int(one.outside.sum())} outside three\n"
        )
        if one.alarm:
            sys.stdout.write(
                f"  drifted: seen at {one.alarm}, most likely since {one.since}, by {one.step:+.3g} {one.unit}\n"
                f"  what moves it: {one.dimension}\n"
            )
    return DRIFTED if any(one.alarm for one in found) else 0
