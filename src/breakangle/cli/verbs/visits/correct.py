"""`breakangle correct`: put another reading or adjustment in the place of one."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry_options import add_as_typed, say_entry
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "correct",
        help=tr("put another reading or adjustment in the place of one"),
        description=tr(
            "Supersede an entry, with the reason; the old one is kept. Without WORD: it no longer counts."
        ),
    )
    verb.add_argument("entry", metavar="ENTRY", help=tr("its name, as `breakangle visit` shows it"))
    verb.add_argument("words", metavar="WORD", nargs="*", help=tr("what stands instead"))
    add_as_typed(verb)
    verb.add_argument("--reason", required=True, help=tr("why"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Store it and print the entry's name.

    Raises:
        BreakangleError: a value that cannot be right, or a shop that cannot be reached.
    """
    from breakangle.services.readings.entry_words import check_form
    from breakangle.services.visits.entries import correct

    stamp = stamp_of(arguments)
    check_form(arguments.words)
    with opened(arguments) as shop:
        instead = _instead(shop, arguments, arguments.as_typed) if arguments.words else None
        entry = correct(shop, arguments.entry, instead, arguments.reason, stamp)
    say_entry(entry)
    return 0


def _instead(shop: "Shop", arguments: argparse.Namespace, sure: bool) -> dict[str, Any]:
    """Return what is to stand instead of an entry, as it was typed."""
    from breakangle.services.readings.entry_words import reading_words
    from breakangle.services.readings.work_words import work_words
    from breakangle.services.visit_sheets.sheets import entry_named
    from breakangle.services.visits.entries import service_of

    entry = entry_named(shop, arguments.entry)
    service = service_of(shop, entry.visit_id)
    if entry.kind == "reading":
        return reading_words(arguments.words, service, as_typed=sure)
    return work_words(arguments.words, service.instrument_now(), sure)
