"""What can be chosen of a template or a making job: `--set NAME=VALUE`, taken apart and listed."""

import argparse
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from breakangle.cli.render.entry import say
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.documents.true_size.kinds import Option


def add_choices(verb: argparse.ArgumentParser) -> None:
    """Give `verb` the service file that may be left out, and the option that chooses."""
    verb.add_argument("file", nargs="?", metavar="FILE", help=tr("a service file (JSON), or - for a pipe"))
    verb.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        dest="options",
        help=tr("choose; may be repeated"),
    )


def chosen(words: Sequence[str], example: str) -> dict[str, str]:
    """Return what was chosen by its name; `example` is one such choice, as `nut=moved`.

    Raises:
        CorrectInputError: a choice without `=`.
    """
    if not all("=" in word for word in words):
        such_as = tr("such as --set {example}", example=example)
        raise CorrectInputError(tr("a choice without ="), "NAME=VALUE", such_as)
    return dict(word.split("=", 1) for word in words)


def say_options(options: Iterable["Option"], own_unit: str) -> None:
    """Print a line for each option: how it is set, what it is, what it can be."""
    for option in options:
        usual = option.usual_text(own_unit) or "…"
        usual = f"'{usual}'" if " " in usual else usual
        say(f"    --set {option.name}={usual}  {option.asked(own_unit)}; {option.allowed(own_unit)}")
