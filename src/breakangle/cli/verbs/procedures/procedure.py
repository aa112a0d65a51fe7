"""`breakangle procedure`: the bench procedures as text, and a check of a shop's own."""

import argparse
from pathlib import Path
from typing import Any

from breakangle.cli.render.entry import say, service_in
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.words.speech import tr

LARGEST_BYTES = 1_000_000


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "procedure",
        help=tr("how a bench job is done, step by step"),
        description=tr("List the bench procedures, or print one, for an instrument as far as it is told."),
    )
    verb.add_argument("name", metavar="NAME", nargs="?", help=tr("such as restring; without one, the list"))
    verb.add_argument("--of", metavar="FILE", help=tr("a service file: steps for that instrument"))
    verb.add_argument("--fact", metavar="NAME=CHOICE", nargs="+", default=[], help=tr("such as board=bare"))
    verb.add_argument(
        "--check", metavar="FILE", help=tr("check a procedure of your own (TOML or JSON) and print it")
    )
    add_units(verb)
    verb.add_argument("--json", action="store_true", help=tr("as JSON"))
    verb.add_argument("--shop", action="store_true", help=tr("with the shop's own procedures"))
    verb.add_argument("--example", action="store_true", help=tr("with --shop: the example workshop's"))


def run(arguments: argparse.Namespace) -> int:
    """Print the list or a procedure.

    Raises:
        BreakangleError: no such procedure, or a value that cannot be right.
    """
    from breakangle.cli.render.page import console_for

    if not arguments.shop:
        return _run(arguments, None, console_for)
    from breakangle.cli.render.shop_entry import opened

    with opened(arguments) as shop:
        return _run(arguments, shop, console_for)


def _run(arguments: argparse.Namespace, shop: Any, console_for: Any) -> int:
    import sys

    from breakangle.procedures.shelf import checked_facts, procedure_from_text, procedure_json
    from breakangle.procedures.text import procedure_text
    from breakangle.services.procedures.minutes import learned
    from breakangle.services.procedures.shelf import facts_of, procedure, procedures

    known = checked_facts(_facts(arguments.fact))
    if arguments.of is not None:
        known = facts_of(service_in(arguments.of).instrument_now(), known)
    if arguments.name is None and arguments.check is None:
        for one in procedures(shop, known):
            whose = "" if one.whose == "ours" else f"  ({one.whose})"
            timed = tr("  (as timed here)") if one.learned else ""
            say(f"{one.name:18} {one.minutes:4.0f} min  {one.title}{whose}{timed}")
        return 0
    if arguments.check is not None:
        found = procedure_from_text(_text_in(Path(arguments.check)), arguments.check)
    else:
        found = procedure(arguments.name, shop)
    width = console_for(sys.stdout).width - 2
    own = learned(shop, {found.name: found}).get(found.name)
    text = "" if arguments.json else procedure_text(found, known, width, own)
    say(procedure_json(found) if arguments.json else units_asked(arguments).sentence(text))
    return 0


def _facts(words: list[str]) -> dict[str, str]:
    from breakangle.model.errors import CorrectInputError

    told = {}
    for word in words:
        name, equals, choice = word.partition("=")
        if not equals:
            raise CorrectInputError(f'"{word}"', tr("NAME=CHOICE, such as board=bare"))
        told[name] = choice
    return told


def _text_in(path: Path) -> str:
    """Return the text of a procedure's file.

    Raises:
        ChooseAnotherFileError: unreadable, not UTF-8, or too large.
    """
    from breakangle.model.errors import ChooseAnotherFileError

    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise ChooseAnotherFileError(
                tr("{path} is too large", path=path), tr("a procedure has at most 1 MB")
            )
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as cause:
        raise ChooseAnotherFileError(
            tr("{path} is not text in UTF-8", path=path), "", tr("name another file")
        ) from cause
    except (OSError, ValueError) as cause:
        reason = (getattr(cause, "strerror", None) or str(cause)).lower()
        raise ChooseAnotherFileError(
            tr("{path} cannot be read: {reason}", path=path, reason=reason), "", tr("name another file")
        ) from cause
