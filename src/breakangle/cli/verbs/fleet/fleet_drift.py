"""`breakangle fleet-drift`: whether what leaves a maker's line drifts."""

import argparse
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from breakangle.fleet.drift import Drift
    from breakangle.services.design.moved_dimension import Moved

DRIFTED = 1
LIKELY = 0.9  # chance that the causes told sum up to


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
    verb.add_argument(
        "--design",
        metavar="FILE",
        help="the service file of what is built: tells which of its dimensions has moved, and by how much",
    )


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
    drifted = any(one.alarm for one in found)
    if arguments.design:
        _tell_dimension(found, arguments.design)
    return DRIFTED if drifted else 0


def _tell_dimension(found: "list[Drift]", file: str) -> None:
    from breakangle.cli.render.entry import service_in
    from breakangle.fleet.dimension import dimension_of

    cause = dimension_of(found, service_in(file))
    if cause is None:
        return
    if not cause.explains:
        sys.stdout.write("no single dimension explains all of it; nearest:\n")
    told = 0.0
    for one in cause.moved:
        sys.stdout.write(f"  {_moved(one)}\n")
        told += one.chance
        if told >= LIKELY or not cause.explains:
            break


def _moved(one: "Moved") -> str:
    unit = "°" if one.dimension.endswith("degrees") else " mm"
    by = f"{one.amount.value:+.2f} ± {1.96 * one.amount.uncertainty:.2f}{unit}".replace("-", "−")
    return f"{one.words}: has moved by {by}, {100 * one.chance:.0f} % likely; move it back by that"
