"""`breakangle listen FILE…`: which string, which fret, what pitch, how sure, from recordings of plucked
strings."""

import argparse
import json
import sys
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.pages.heard_forms import add_forms, check_forms, run_form
from breakangle.cli.render.typed_options import number, whole
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from collections.abc import Iterator

    from breakangle.model.service import Service
    from breakangle.services.listening.takes import Listened

PICTURES = (".svg", ".png")
LONG_S = 20.0


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "listen",
        help=tr("pitch of plucked strings from recordings, named and judged"),
        description=tr(
            "Find every pluck in the recordings, measure and judge it. Exit 0 when at least one "
            "take can be used, 1 when none can."
        ),
    )
    verb.add_argument(
        "files", nargs="+", type=Path, metavar="FILE", help=tr("recordings, in the order played")
    )
    verb.add_argument(
        "--instrument", metavar="SERVICE", help=tr("the service file of the instrument: takes get names")
    )
    verb.add_argument(
        "--string", type=whole, metavar="N", help=tr("all takes are of this string (1 is the highest)")
    )
    verb.add_argument(
        "--order",
        metavar="NOTES",
        help=tr(
            "what was played of each string, in that order: open, harmonic, fretted, such as "
            "open,fretted,harmonic; where sound alone does not tell"
        ),
    )
    verb.add_argument(
        "--add-to", metavar="SERVICE", help=tr("add good, named takes to this service file as pitch readings")
    )
    verb.add_argument(
        "--stretches", action="store_true", help=tr("one pluck after each stretch: has the string settled?")
    )
    verb.add_argument(
        "--tolerance-cents", type=number, default=2.0, metavar="C", help=tr("with --stretches (default 2)")
    )
    _add_calibrate(verb)
    add_forms(verb)
    verb.add_argument("--plot", type=Path, metavar="PICTURE", help=tr("draw pitch over time, .svg or .png"))
    verb.add_argument("--json", action="store_true", help=tr("everything as JSON (breakangle/listen/1)"))
    verb.set_defaults(run=run)


def _add_calibrate(verb: Any) -> None:
    verb.add_argument(
        "--calibrate",
        metavar="WHO",
        help=tr(
            "the takes are a dozen plucks of one string as WHO plays, the first third light, "
            "then medium, then heavy: tell these strengths in mm; with --add-to they are stored, "
            "with who and when, and used from then on"
        ),
    )


def run(arguments: argparse.Namespace) -> int:
    """Print what was heard.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    from breakangle.cli.render.entry import service_in
    from breakangle.cli.render.pages.listen import as_json, print_heard
    from breakangle.listening.takes.reasons import Verdict
    from breakangle.services.listening.settling_takes import settling_of
    from breakangle.services.listening.takes import add_readings, kinds_told, listen_to
    from breakangle.services.service_files.service_written import write_service

    _check(arguments)
    named_by = arguments.instrument or arguments.add_to
    service = service_in(named_by) if named_by else None
    if arguments.form is not None:
        return run_form(arguments, service)
    told = None if arguments.order is None else kinds_told(arguments.order)
    with _progress() as progress:
        heard = listen_to(arguments.files, service, arguments.string, progress=progress, told=told)
    if arguments.calibrate is not None:
        return _calibrate(arguments, service, heard)
    settled = settling_of(heard.takes, arguments.tolerance_cents) if arguments.stretches else None
    if arguments.json:
        answer = as_json(heard, service.reference_hz if service else 440.0)
        if settled is not None:
            drifts = [round(c, 2) for c in settled.drift_cents]
            answer["settling"] = {"drift_cents": drifts, "settled": settled.settled}
        sys.stdout.write(json.dumps(answer, indent=2, ensure_ascii=False, allow_nan=False) + "\n")
    else:
        print_heard(heard, service.reference_hz if service else 440.0, settled.words if settled else None)
    if arguments.plot is not None:
        from breakangle.cli.render.pictures.listen import draw_takes

        draw_takes(heard, arguments.plot)
    usable = any(take.take.verdict is not Verdict.REFUSED for take in heard.takes)
    if arguments.add_to is not None and usable:
        target = service_in(arguments.add_to, quiet=True)
        longer, count = add_readings(target, heard.takes)
        write_service(arguments.add_to, longer)
        sys.stderr.write(
            tr("{count} pitch readings added to {add_to}\n", count=count, add_to=arguments.add_to)
        )
    return 0 if usable else 1


def _check(arguments: argparse.Namespace) -> None:
    """Refuse options that do not fit together, before minutes of listening.

    Raises:
        CorrectInputError: which, and what fits.
        InstallError: a picture is asked for and its part is not installed.
    """
    from importlib.util import find_spec

    from breakangle.model.errors import CorrectInputError, InstallError

    alone = {"--string": arguments.string, "--order": arguments.order, "--calibrate": arguments.calibrate}
    for option, value in alone.items():
        if value is not None and not (arguments.instrument or arguments.add_to):
            raise CorrectInputError(
                tr("{option} alone says nothing", option=option),
                tr("a string belongs to an instrument"),
                "add --instrument",
            )
    if not 0.0 < arguments.tolerance_cents < 100.0:
        raise CorrectInputError(
            f"--tolerance-cents {arguments.tolerance_cents:g}", tr("above 0 and below 100"), tr("2 is usual")
        )
    if arguments.plot is not None and arguments.plot.suffix.lower() not in PICTURES:
        raise CorrectInputError(
            f"--plot {arguments.plot}", tr("a picture ends in .svg or .png"), tr("name it so")
        )
    check_forms(arguments)
    if arguments.form is None and arguments.plot is not None and find_spec("matplotlib") is None:
        raise InstallError(tr("--plot draws with an optional part"), "", tr("pip install 'breakangle[plot]'"))


@contextmanager
def _progress() -> "Iterator[Callable[[Path, float, float | None], None] | None]":
    """A progress bar on the terminal for long recordings; nothing where nobody looks."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress, TaskID

    tasks: dict[Path, TaskID] = {}
    with Progress(console=Console(stderr=True), transient=True) as bar:

        def tell(path: Path, done_s: float, length_s: float | None) -> None:
            if length_s is None or length_s < LONG_S:
                return
            if path not in tasks:
                tasks[path] = bar.add_task(path.name, total=length_s)
            bar.update(tasks[path], completed=done_s)

        yield tell


def _calibrate(arguments: argparse.Namespace, service: "Service | None", heard: "Listened") -> int:
    """Print the strengths of a dozen plucks, and store them where that is asked for."""
    from datetime import UTC, datetime

    from breakangle.cli.render.entry import service_in
    from breakangle.cli.render.pages.listen import strengths_json, strengths_lines
    from breakangle.services.listening.strokes import strengths_of, with_strengths
    from breakangle.services.service_files.service_written import write_service

    assert service is not None
    day = f"{datetime.now(UTC).astimezone():%Y-%m-%d}"
    found = strengths_of([take.stroke for take in heard.takes], service, arguments.calibrate, day)
    if arguments.json:
        told = json.dumps(strengths_json(heard, found), indent=2, ensure_ascii=False, allow_nan=False)
    else:
        told = "\n".join(strengths_lines(heard, found))
    sys.stdout.write(told + "\n")
    if arguments.add_to is not None:
        write_service(arguments.add_to, with_strengths(service_in(arguments.add_to, quiet=True), found))
        sys.stderr.write(
            tr("strengths of {who} stored in {add_to}\n", who=found.who, add_to=arguments.add_to)
        )
    return 0
