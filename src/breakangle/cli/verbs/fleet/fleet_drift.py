"""`breakangle fleet-drift`: whether what leaves a maker's line drifts."""

import argparse
import sys
from typing import Any

from breakangle.cli.render.units import add_units, units_asked
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
    verb.add_argument(
        "--design",
        metavar="FILE",
        help=tr(
            "the service file of what is built: tells which of its dimensions has moved, and by how much"
        ),
    )
    verb.add_argument("--sheet", metavar="FILE", help=tr("the charts as a sheet (.pdf, .html or .txt)"))
    add_units(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print the charts in words, and draw them where asked; return 1 where something drifted.

    Raises:
        BreakangleError: a folder that holds no figures, or too few; a design or a sheet that cannot be.
    """
    from breakangle.cli.render.entry import service_in
    from breakangle.fleet.dimension import dimension_of
    from breakangle.fleet.drift import drifts_in, shown_in, too_few_in
    from breakangle.fleet.drift_sheet import cause_words, drift_words, few_words

    units, found = units_asked(arguments).name, drifts_in(arguments.folder)
    cause = dimension_of(found, service_in(arguments.design)) if arguments.design else None
    found = [shown_in(one, units) for one in found]
    for one in found:
        first, *rest = drift_words(one, cause)
        sys.stdout.write(f"{first}\n" + "".join(f"  {line}\n" for line in rest))
    said = few_words(too_few_in(arguments.folder)) + cause_words(cause, units)
    sys.stdout.write("".join(f"{line}\n" for line in said))
    if not any(one.alarm for one in found):
        sys.stdout.write(tr("nothing has drifted\n"))
    if arguments.sheet:
        _write_sheet(arguments, found, cause, units)
    return DRIFTED if any(one.alarm for one in found) else 0


def _write_sheet(arguments: argparse.Namespace, found: Any, cause: Any, units: str) -> None:
    from breakangle.cli.render.paper import write_bytes
    from breakangle.documents.renderers.page_file import page_file
    from breakangle.fleet.drift_sheet import drift_page

    form = arguments.sheet.rpartition(".")[2].lower()
    page = drift_page(found, cause, arguments.folder, units)
    sys.stdout.write(
        tr("written: {write_bytes}\n", write_bytes=write_bytes(arguments.sheet, page_file(page, form)))
    )
