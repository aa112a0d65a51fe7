"""The service a verb works on, from a file or a pipe; what is kept but not understood is said aloud."""

import argparse
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.model.service import Service

PIPE = "-"


def add_file(verb: argparse.ArgumentParser) -> None:
    """Give `verb` its FILE argument."""
    verb.add_argument("file", metavar="FILE", help=tr("a service file (JSON), or - to read one from a pipe"))


def service_in(file: str, quiet: bool = False) -> "Service":
    """Return the service in `file`, or in what comes through the pipe for `-`; report keys it does not know.

    Raises:
        ChooseAnotherFileError: it cannot be read, or is no service file.
        ServiceFileError: values that cannot be right.
    """
    from breakangle.services.service_files.service import (
        LARGEST_FILE_BYTES,
        read_service,
        service_from,
        unknown,
    )

    if file == PIPE:
        service = service_from(sys.stdin.buffer.read(LARGEST_FILE_BYTES + 1), tr("standard input"))
    else:
        service = read_service(file)
    if not quiet:
        report_strange(unknown(service))
    return service


def report_strange(paths: Sequence[str]) -> None:
    """Say aloud which keys are kept but not understood."""
    if paths:
        sys.stderr.write(tr("breakangle: kept as it came, not understood: {paths}\n", paths=", ".join(paths)))


def say(text: str) -> None:
    """Write `text` and a line's end to standard output."""
    sys.stdout.write(text if text.endswith("\n") else text + "\n")
