"""`breakangle listen FILE…`: which string, which fret, what pitch, how sure, from recordings of plucked
strings."""

import argparse
import json
import sys
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.typed_options import number, whole

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console

    from breakangle.services.listening.takes import Listened, NamedTake

PICTURES = (".svg", ".png")
LONG_S = 20.0
ORDER_HINT = (
    "listen to the same recording again with, say, --order open,harmonic,fretted if that is what was played"
)
NO_PLUCK = "No pluck was heard. Record again: closer to the strings, louder, one string at a time."
MIXED = ("second-string", "too-low")


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "listen",
        help="pitch of plucked strings from recordings, named and judged",
        description="Find every pluck in the recordings, measure and judge it. "
        "Exit 0 when at least one take can be used, 1 when none can.",
    )
    verb.add_argument("files", nargs="+", type=Path, metavar="FILE", help="recordings, in the order played")
    verb.add_argument(
        "--instrument", metavar="SERVICE", help="the service file of the instrument: takes get names"
    )
    verb.add_argument(
        "--string", type=whole, metavar="N", help="all takes are of this string (1 is the highest)"
    )
    verb.add_argument(
        "--order",
        metavar="NOTES",
        help="what was played of each string, in that order: open, harmonic, fretted, such as open,fretted,harmonic; "
        "where sound alone does not tell",
    )
    verb.add_argument(
        "--add-to", metavar="SERVICE", help="add good, named takes to this service file as pitch readings"
    )
    verb.add_argument(
        "--stretches", action="store_true", help="one pluck after each stretch: has the string settled?"
    )
    verb.add_argument(
        "--tolerance-cents", type=number, default=2.0, metavar="C", help="with --stretches (default 2)"
    )
    verb.add_argument("--plot", type=Path, metavar="PICTURE", help="draw pitch over time, .svg or .png")
    verb.add_argument("--json", action="store_true", help="everything as JSON (breakangle/listen/1)")
    verb.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print what was heard.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    from breakangle.cli.render.entry import service_in
    from breakangle.listening.takes.reasons import Verdict
    from breakangle.services.listening.takes import add_readings, kinds_told, listen_to, settling_of
    from breakangle.services.service_files.service_written import write_service

    _check(arguments)
    named_by = arguments.instrument or arguments.add_to
    service = service_in(named_by) if named_by else None
    told = None if arguments.order is None else kinds_told(arguments.order)
    with _progress() as progress:
        heard = listen_to(arguments.files, service, arguments.string, progress=progress, told=told)
    settled = settling_of(heard.takes, arguments.tolerance_cents) if arguments.stretches else None
    if arguments.json:
        answer = as_json(heard, service.reference_hz if service else 440.0)
        if settled is not None:
            answer["settling"] = {
                "drift_cents": [round(c, 2) for c in settled.drift_cents],
                "settled": settled.settled,
            }
        sys.stdout.write(json.dumps(answer, indent=2, ensure_ascii=False, allow_nan=False) + "\n")
    else:
        _print(heard, service.reference_hz if service else 440.0, settled.words if settled else None)
    if arguments.plot is not None:
        from breakangle.cli.render.pictures.listen import draw_takes

        draw_takes(heard, arguments.plot)
    usable = any(take.take.verdict is not Verdict.REFUSED for take in heard.takes)
    if arguments.add_to is not None and usable:
        target = service_in(arguments.add_to, quiet=True)
        longer, count = add_readings(target, heard.takes)
        write_service(arguments.add_to, longer)
        sys.stderr.write(f"{count} pitch readings added to {arguments.add_to}\n")
    return 0 if usable else 1


def _check(arguments: argparse.Namespace) -> None:
    """Refuse options that do not fit together, before minutes of listening.

    Raises:
        CorrectInputError: which, and what fits.
        InstallError: a picture is asked for and its part is not installed.
    """
    from importlib.util import find_spec

    from breakangle.model.errors import CorrectInputError, InstallError

    for option, value in (("--string", arguments.string), ("--order", arguments.order)):
        if value is not None and not (arguments.instrument or arguments.add_to):
            raise CorrectInputError(
                f"{option} alone says nothing", "a string belongs to an instrument", "add --instrument"
            )
    if not 0.0 < arguments.tolerance_cents < 100.0:
        raise CorrectInputError(
            f"--tolerance-cents {arguments.tolerance_cents:g}", "above 0 and below 100", "2 is usual"
        )
    if arguments.plot is not None and arguments.plot.suffix.lower() not in PICTURES:
        raise CorrectInputError(f"--plot {arguments.plot}", "a picture ends in .svg or .png", "name it so")
    if arguments.plot is not None and find_spec("matplotlib") is None:
        raise InstallError("--plot draws with an optional part", "", "pip install 'breakangle[plot]'")


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


def as_json(heard: "Listened", reference_hz: float) -> dict[str, Any]:
    """The answer as plain data; numbers no finer than they are known."""
    return {
        "format": "breakangle/listen/1",
        "takes": [_take_json(take, reference_hz) for take in heard.takes],
        "intonation": [
            {
                "string": one.string,
                "cents": round(one.intonation.cents, 2),
                "uncertainty_cents": round(one.intonation.uncertainty_cents, 2),
                "disagreements": list(one.intonation.disagreements),
            }
            for one in heard.intonation
        ],
    }


def _take_json(one: "NamedTake", reference_hz: float) -> dict[str, Any]:
    """One take as plain data; what is not known is null."""
    pitch, name = None if _mixed(one) else one.take.pitch, one.name
    cents = name.cents if name else _nearest(pitch.law.partial_one_hz, reference_hz)[1] if pitch else None
    return {
        "file": str(one.path),
        "start_s": round(one.take.start_s, 3),
        "end_s": round(one.take.end_s, 3),
        "window_s": [round(edge, 3) for edge in one.take.judged.window_s],
        "string": name.string if name else None,
        "fret": name.fret if name else None,
        "harmonic": name.harmonic if name else None,
        "fundamental_hz": round(pitch.law.partial_one_hz, 4) if pitch else None,
        "uncertainty_cents": round(pitch.uncertainty_cents, 2) if pitch else None,
        "inharmonicity": float(f"{pitch.law.inharmonicity:.3g}") if pitch else None,
        "cents": round(cents, 2) if cents is not None else None,
        "verdict": one.take.verdict.value,
        "reasons": [reason.code for reason in one.take.reasons],
        "advice": [str(reason) for reason in one.take.reasons],
    }


def _nearest(hz: float, reference_hz: float) -> tuple[str, float]:
    """Name of the nearest note in equal temperament and cents above it."""
    from math import log2

    steps = 12 * log2(hz / reference_hz)
    key = round(steps) + 69
    letters = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    return f"{letters[key % 12]}{key // 12 - 1}", 100 * (steps - round(steps))


def _print(heard: "Listened", reference_hz: float, settled: str | None) -> None:
    """Print the takes as a table, then intonation, then what to do about takes that are not good."""
    from breakangle.cli.render.page import bullets, grid, heading, paragraph, print_page

    def draw(console: "Console") -> None:
        if not heard.takes:
            paragraph(console, NO_PLUCK)
            return
        table = grid(
            [("at s", "right", 7), ("what", "left", 21), ("Hz", "right", 8), ("cents", "right", 6),
             ("±", "right", 4), ("verdict", "left", None)]
        )  # fmt: skip
        table.columns[
            -1
        ].no_wrap = False  # where room is short words go to the next line: figures never are cut
        for one in heard.takes:
            table.add_row(*_row(one, reference_hz))
        console.print(table)
        if heard.intonation:
            heading(console, "Fretted twelfth against the true octave")
            for each in heard.intonation:
                figure = each.intonation
                spread = max(figure.uncertainty_cents, 0.1)
                words = f"string {each.string}: {figure.cents:+.1f} cents, ± {spread:.1f}"
                paragraph(console, words, 1)
                bullets(console, figure.disagreements)
        reasons = [reason for take in heard.takes for reason in take.take.reasons]
        told = list(dict.fromkeys(map(str, reasons)))
        if any(reason.code == "which-note" for reason in reasons):
            told.append(ORDER_HINT)
        if told:
            heading(console, "What to do better")
            bullets(console, told)
        if settled:
            heading(console, "Settling")
            paragraph(console, settled, 1)

    print_page(draw)


def _mixed(one: "NamedTake") -> bool:
    """Whether the pitch is of no string: what several sounds only seem to share."""
    return any(reason.refuses and reason.code in MIXED for reason in one.take.reasons)


def _row(one: "NamedTake", reference_hz: float) -> tuple[str, ...]:
    """One take as words."""
    at, pitch, name = f"{one.take.start_s:.2f}", one.take.pitch, one.name
    verdict = one.take.verdict.value
    codes = ", ".join(reason.code for reason in one.take.reasons)
    verdict = f"{verdict}: {codes}" if codes else verdict
    if pitch is None or _mixed(one):
        return at, "", "", "", "", verdict
    hz = pitch.law.partial_one_hz
    nearest, cents = _nearest(hz, reference_hz)
    what = nearest
    if name is not None:
        cents = name.cents
        place = "open" if name.fret == 0 else f"fret {name.fret}"
        place = f"harmonic {name.harmonic}" if name.harmonic else place
        what = f"string {name.string}, {place}"
    digits = 3 if hz < 100 else 2
    return at, what, f"{hz:.{digits}f}", f"{cents:+.1f}", f"{pitch.uncertainty_cents:.1f}", verdict
