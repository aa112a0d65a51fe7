"""`read`, `work`, `correct`, `undo`: what happens at the bench, stored when it happens."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import report_strange, say
from breakangle.cli.render.shop_entry import add_number, add_shop, opened, stamp_of, visit_of

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verbs and their options."""
    verb = verbs.add_parser(
        "read",
        help="store a reading",
        description="Store a reading, such as: breakangle read 12 gap string=6 fret=12 held=1 mm=1.8. "
        "Or as the trade says it: relief 6 .012in, action 1 5/64, nut 3 0.10mm.",
    )
    add_number(verb)
    verb.add_argument("words", metavar="WORD", nargs="+", help="the quantity, then name=value; or JSON")
    _add_as_typed(verb)
    verb.add_argument("--gauge", metavar="NAME", help="read with this gauge; a new name is a new gauge")
    _add_before(verb)
    add_shop(verb, writes=True)
    verb = verbs.add_parser(
        "work",
        help="store an adjustment that was made",
        description="Store an adjustment that was made, such as: breakangle work 12 rod turns=1/4",
    )
    add_number(verb)
    verb.add_argument("words", metavar="WORD", nargs="+", help="the adjustment, then name=value; or JSON")
    _add_as_typed(verb)
    _add_before(verb)
    add_shop(verb, writes=True)
    verb = verbs.add_parser(
        "correct",
        help="put another reading or adjustment in the place of one",
        description="Supersede an entry, with the reason; the old one is kept. Without WORD: it no longer counts.",
    )
    verb.add_argument("entry", metavar="ENTRY", help="its name, as `breakangle visit` shows it")
    verb.add_argument("words", metavar="WORD", nargs="*", help="what stands instead")
    _add_as_typed(verb)
    verb.add_argument("--reason", required=True, help="why")
    add_shop(verb, writes=True)
    verb = verbs.add_parser(
        "undo", help="take an entry back", description="Take an entry back: what it superseded stands again."
    )
    verb.add_argument("entry", metavar="ENTRY", help="its name, as `breakangle visit` shows it")
    add_shop(verb, writes=True)


def _add_as_typed(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--as-typed", action="store_true", help="it is right as it stands: ask nothing")


def _add_before(verb: argparse.ArgumentParser) -> None:
    told = "entered late: it was made before this entry, and all after it is worked out again"
    verb.add_argument("--before", metavar="ENTRY", help=told)
    told = "entered late: it was made on this day, as 2027-03-01, or 2027-03-01 14:30"
    verb.add_argument("--on", metavar="DAY", help=told)


def _late(arguments: argparse.Namespace) -> str | None:
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
        raise CorrectInputError("--before and --on", "one of the two", "leave one out")
    day_typed(arguments.on, stamp_of(arguments).at)
    return str(arguments.on).strip() or None


def run(arguments: argparse.Namespace) -> int:
    """Store it and print the entry's name.

    Raises:
        BreakangleError: a value that cannot be right, or a shop that cannot be reached.
    """
    from breakangle.services.readings.entry_words import check_form, reading_words
    from breakangle.services.readings.work_words import work_words
    from breakangle.services.visit_sheets.sheets import read_with, strange_keys
    from breakangle.services.visits.entries import correct, do_adjustment, service_of, take_reading, undo

    stamp, sure = stamp_of(arguments), getattr(arguments, "as_typed", False)
    check_form(getattr(arguments, "words", ()))
    with opened(arguments) as shop:
        if arguments.verb == "read":
            visit = visit_of(shop, arguments)
            given = reading_words(arguments.words, service_of(shop, visit.id), as_typed=sure)
            if arguments.gauge is None:
                entry = take_reading(shop, visit.id, given, stamp, before=_late(arguments))
            else:
                entry = read_with(shop, visit, given, arguments.gauge, stamp, _late(arguments))
        elif arguments.verb == "work":
            visit = visit_of(shop, arguments)
            now = service_of(shop, visit.id).instrument_now()
            words = work_words(arguments.words, now, sure)
            entry = do_adjustment(shop, visit.id, words, stamp, before=_late(arguments))
        elif arguments.verb == "undo":
            entry = undo(shop, arguments.entry, stamp)
        else:
            instead = _instead(shop, arguments, sure) if arguments.words else None
            entry = correct(shop, arguments.entry, instead, arguments.reason, stamp)
    say(f"{entry.id} {entry.body or 'withdrawn'}")
    report_strange(strange_keys(entry))
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
