"""What the verbs that store an entry share: options, when it was made, and the entry's name."""

import argparse
from typing import TYPE_CHECKING

from breakangle.cli.render.entry import report_strange, say
from breakangle.cli.render.shop_entry import add_number, stamp_of
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.records import Entry


def add_words(verb: argparse.ArgumentParser, what: str) -> None:
    """Give `verb` the sheet, and the words that tell what is stored there: `what` says what they are."""
    add_number(verb)
    verb.add_argument("words", metavar="WORD", nargs="+", help=what)
    add_as_typed(verb)


def add_as_typed(verb: argparse.ArgumentParser) -> None:
    """Give `verb` the option that asks nothing."""
    verb.add_argument("--as-typed", action="store_true", help=tr("it is right as it stands: ask nothing"))


def add_before(verb: argparse.ArgumentParser) -> None:
    """Give `verb` the options of what is entered later than it was made."""
    told = tr("entered late: it was made before this entry, and all after it is worked out again")
    verb.add_argument("--before", metavar="ENTRY", help=told)
    told = tr("entered late: it was made on this day, as 2027-03-01, or 2027-03-01 14:30")
    verb.add_argument("--on", metavar="DAY", help=told)


def entered_late(arguments: argparse.Namespace) -> str | None:
    """Return before what, or on what day, it was made; None: now.

    Raises:
        CorrectInputError: both were given, or no day.
    """
    from breakangle.model.errors import CorrectInputError
    from breakangle.services.typed_values.past_days import day_typed

    before: str | None = arguments.before
    if arguments.on is None:
        return before
    if before is not None:
        raise CorrectInputError("--before and --on", tr("one of the two"), tr("leave one out"))
    day_typed(arguments.on, stamp_of(arguments).at)
    return str(arguments.on).strip() or None


def say_entry(entry: "Entry") -> None:
    """Print an entry's name and what it holds; keys that no model knows are told on standard error."""
    from breakangle.services.visit_sheets.sheets import strange_keys

    say(f"{entry.id} {entry.body or tr('withdrawn')}")
    report_strange(strange_keys(entry))
