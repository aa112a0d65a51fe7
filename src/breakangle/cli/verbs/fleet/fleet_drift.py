"""`breakangle fleet-drift`: whether what leaves a maker's line drifts."""

import argparse
import sys
from typing import Any

from breakangle.model.words.speech import tr

DRIFTED = 1


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "fleet-drift",
        help=tr("whether a maker's line drifts: control charts of a run of `fleet figures`"),
        description=tr(
            "Control charts by quantity over instruments in the order of their names: single "
            "values against three deviations, and a cumulative sum that finds a shift of one "
            "deviation."
        ),
        epilog=tr("exit codes: 0 nothing has drifted, 1 something has, 2 what was given cannot be right"),
    )
    verb.add_argument("folder", metavar="FOLDER", help=tr("the folder of a run of the job figures"))


def run(arguments: argparse.Namespace) -> int:
    """Print the charts in words; return 1 where something drifted.

    Raises:
        BreakangleError: a folder that holds no figures, or too few.
    """
    from breakangle.fleet.drift import drifts_in

    found = drifts_in(arguments.folder)
    for one in found:
        sys.stdout.write(
            tr(
                "{figure}: {items_count} instruments, {centre:+.3g} ± {deviation:.2g} {unit} from "
                "what is wanted, {sum} outside three\n",
                figure=one.figure,
                items_count=len(one.items),
                centre=one.centre,
                deviation=one.deviation,
                unit=one.unit,
                sum=int(one.outside.sum()),
            )
        )
        if one.alarm:
            sys.stdout.write(
                tr(
                    "  drifted: seen at {alarm}, most likely since {since}, by {step:+.3g} {unit}\n  what "
                    "moves it: {dimension}\n",
                    alarm=one.alarm,
                    since=one.since,
                    step=one.step,
                    unit=one.unit,
                    dimension=one.dimension,
                )
            )
    return DRIFTED if any(one.alarm for one in found) else 0
