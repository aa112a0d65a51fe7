"""`breakangle work`: store an adjustment that was made."""

import argparse
from typing import Any

from breakangle.cli.render.entry_options import add_before, add_words, entered_late, say_entry
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of, visit_of
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "work",
        help=tr("store an adjustment that was made"),
        description=tr("Store an adjustment that was made, such as: breakangle work 12 rod turns=1/4"),
    )
    add_words(verb, tr("the adjustment, then name=value; or JSON"))
    add_before(verb)
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Store it and print the entry's name.

    Raises:
        BreakangleError: a value that cannot be right, or a shop that cannot be reached.
    """
    from breakangle.services.readings.entry_words import check_form
    from breakangle.services.readings.work_words import work_words
    from breakangle.services.visits.entries import do_adjustment, service_of

    stamp = stamp_of(arguments)
    check_form(arguments.words)
    with opened(arguments) as shop:
        visit = visit_of(shop, arguments)
        now = service_of(shop, visit.id).instrument_now()
        words = work_words(arguments.words, now, arguments.as_typed)
        entry = do_adjustment(shop, visit.id, words, stamp, before=entered_late(arguments))
    say_entry(entry)
    return 0
