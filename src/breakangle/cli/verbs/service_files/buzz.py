"""`breakangle buzz`: where this set-up buzzes, as a map of strings by frets; or how hard this shop plucks."""

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from breakangle.cli.render.entry import add_file, say
from breakangle.cli.render.request import service_asked
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr

STRENGTHS = ("light", "medium", "heavy")
PATIENCE_S = 1.0
HEARD = 1


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "buzz",
        help=tr("where this set-up buzzes, how badly, and which fret is to blame"),
        description=tr(
            "Map every string and fret: does a plucked note touch a crown, which, when, how badly."
        ),
        epilog=tr("exit codes: 0 nothing is heard, 1 something is, 2 what was given cannot be right"),
    )
    add_file(verb)
    many = tr(
        "strength of play (default: what the file asks for; medium with --heard or --clean); may be given more "
        "than once"
    )
    verb.add_argument("--strength", action="append", choices=STRENGTHS, help=many)
    verb.add_argument(
        "--strengths-file", type=Path, metavar="TOML", help=tr("the shop's own table of strengths")
    )
    verb.add_argument("--json", action="store_true", help=tr("the whole map as JSON (breakangle/buzz/1)"))
    verb.add_argument("--plot", type=Path, metavar="PICTURE", help=tr("draw the map, .svg or .png"))
    add_units(verb)
    told = verb.add_argument_group(
        tr("how hard you pluck, from what you heard on this instrument at one strength")
    )
    told.add_argument(
        "--heard", nargs="+", type=_place, default=[], metavar="STRING:FRET", help=tr("they buzzed")
    )
    told.add_argument(
        "--clean", nargs="+", type=_place, default=[], metavar="STRING:FRET", help=tr("they did not")
    )
    takes = tr("a recording of one clean note at each strength, as light=FILE medium=FILE heavy=FILE")
    told.add_argument("--takes", nargs="+", type=_take, default=[], metavar="STRENGTH=FILE", help=takes)
    verb.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print the map; 1 when something is heard.

    Raises:
        BreakangleError: a file or a value that cannot be right.
    """
    units = units_asked(arguments)
    _check(arguments)
    service = service_asked(arguments.file, units, arguments.json)
    if arguments.heard or arguments.clean:
        return _tell_height(arguments, service)
    from breakangle.model.service import Targets
    from breakangle.services.service_files.buzz import buzz

    strengths = tuple(dict.fromkeys(arguments.strength or [(service.targets or Targets()).strength]))
    with _Waiting(tr("following the strings")) as progress:
        report = buzz(service, strengths, arguments.strengths_file, progress)
    if arguments.json:
        import json

        say(json.dumps(report.to_json(), indent=1, ensure_ascii=False, allow_nan=False))
    else:
        from breakangle.cli.render.pages.buzz import lines, wrapped

        say("\n".join(wrapped(units.sentence(line)) for line in lines(report)))
    if arguments.plot is not None:
        from breakangle.cli.render.pictures.buzz import draw_map

        draw_map(report, arguments.plot)
    return HEARD if any(report.map.heard(strength) for strength in strengths) else 0


def _place(text: str) -> tuple[int, int]:
    string, _, fret = text.partition(":")
    try:
        return int(string), int(fret)
    except ValueError:
        raise argparse.ArgumentTypeError(
            tr("{text!r} is not a string and a fret such as 6:3", text=text)
        ) from None


def _take(text: str) -> tuple[str, Path]:
    strength, _, name = text.partition("=")
    if strength not in STRENGTHS or not name:
        raise argparse.ArgumentTypeError(
            tr("{text!r} is not a strength and a file such as medium=take.wav", text=text)
        )
    return strength, Path(name)


def _check(arguments: argparse.Namespace) -> None:
    """Refuse options that do not fit, before the work.

    Raises:
        CorrectInputError: which, and what fits.
        InstallError: a picture is asked for and its part is not installed.
    """
    from importlib.util import find_spec

    from breakangle.model.errors import CorrectInputError, InstallError

    told = bool(arguments.heard or arguments.clean)
    if told and len(arguments.strength or []) > 1:
        raise CorrectInputError(
            tr("more than one strength with --heard or --clean"), tr("all were played alike"), tr("name one")
        )
    if arguments.takes and not told:
        raise CorrectInputError(
            tr("--takes alone gives no height"),
            tr("one strength must be known"),
            tr("add --heard or --clean"),
        )
    if arguments.plot is None:
        return
    if arguments.plot.suffix.lower() not in (".svg", ".png"):
        raise CorrectInputError(
            f"--plot {arguments.plot}", tr("a picture ends in .svg or .png"), tr("name it so")
        )
    if find_spec("matplotlib") is None:
        raise InstallError(tr("--plot draws with an optional part"), "", tr("pip install 'breakangle[plot]'"))


def _tell_height(arguments: argparse.Namespace, service: Any) -> int:
    from breakangle.cli.render.pages.buzz import height_lines
    from breakangle.services.service_files.buzz import own_heights, played

    strength = (arguments.strength or ["medium"])[0]
    found = played(service, arguments.heard, arguments.clean, arguments.strengths_file)
    heights = own_heights(service, found, strength, dict(arguments.takes), arguments.strengths_file)
    say("\n".join(height_lines(service, found, strength, heights)))
    return 0


class _Waiting:
    """Tells how far the work is on the terminal, once it has taken longer than a second."""

    def __init__(self, words: str) -> None:
        self.words, self.start = words, time.monotonic()
        self.bar: Any = None
        self.task: Any = None

    def __enter__(self) -> Callable[[float], None]:
        return self.tell

    def tell(self, share: float) -> None:
        """Show the share of the work that is done."""
        if self.bar is None and time.monotonic() - self.start > PATIENCE_S and sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import Progress

            self.bar = Progress(console=Console(stderr=True), transient=True)
            self.task = self.bar.add_task(self.words, total=1.0)
            self.bar.start()
        if self.bar is not None:
            self.bar.update(self.task, completed=share)

    def __exit__(self, *failure: object) -> None:
        if self.bar is not None:
            self.bar.stop()
