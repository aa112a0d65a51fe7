"""`breakangle check`: every problem of a service file, or what it holds."""

import argparse
import sys
from typing import Any

from breakangle.cli.render.entry import add_file, say, service_in
from breakangle.model.words.speech import tr, tr_n

INVALID = 2


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "check",
        help=tr("validate a service file, listing every problem"),
        description=tr(
            "Validate a service file: every problem with its JSON path, value and what is allowed."
        ),
        epilog=tr("exit codes: 0 valid, 2 not"),
    )
    add_file(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print what the file holds and which keys are not understood; or every problem, one a line.

    Raises:
        ChooseAnotherFileError: it cannot be read, or is no service file.
    """
    from breakangle.cli.render.request import say_asked
    from breakangle.cli.render.units import Units
    from breakangle.model.service_file import ServiceFileError
    from breakangle.services.service_files.service import unit_questions, unknown

    try:
        service = service_in(arguments.file, quiet=True)
    except ServiceFileError as refused:
        for problem in refused.problems:
            sys.stderr.write(f"breakangle: {arguments.file}: {problem}.\n")
        return INVALID
    readings, work = len(service.readings), len(service.work)
    counts = tr_n("{count} reading", "{count} readings", readings, count=readings) + ", "
    counts += tr_n("{count} adjustment", "{count} adjustments", work, count=work)
    say(
        tr(
            "{file}: valid. {instrument_name}: {kind}, {counts}.",
            file=arguments.file,
            instrument_name=service.instrument.name,
            kind=service.instrument.kind,
            counts=counts,
        )
    )
    for path in unknown(service):
        say(tr("{path}: not understood; kept as it came.", path=path))
    say_asked(unit_questions(service)[0], Units("mm"))
    return 0
