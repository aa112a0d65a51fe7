"""`breakangle join`: two records of one instrument: make them one."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, number_of, opened, stamp_of
from breakangle.cli.render.typed_options import whole
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "join",
        help=tr("two records of one instrument: make them one"),
        description=tr(
            "Make two records of one instrument one, each named by the number of one of its "
            "sheets. Without --sure both are shown, to be compared. All visits of the second "
            "come to the first; closed sheets stay as they are. `breakangle split` makes them "
            "two again."
        ),
    )
    add_number(verb)
    verb.add_argument("other", metavar="OTHER", type=whole, help=tr("a sheet of the other one"))
    verb.add_argument("--sure", action="store_true", help=tr("they are the same instrument"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    from breakangle.services.visits.instrument_identity.joining import join_instruments
    from breakangle.services.visits.instrument_identity.similar import seen_together
    from breakangle.services.visits.visits import visit_numbered

    with opened(arguments) as shop:
        visit = visit_numbered(shop, number_of(arguments))
        other = visit_numbered(shop, arguments.other)
        keys = visit.instrument_id, other.instrument_id
        if not arguments.sure:
            for one in seen_together(shop, keys):
                say(one.words)
            say(tr("Nothing is joined yet. If they are the same instrument: the same again with --sure"))
            return 1
        record = join_instruments(shop, keys[0], keys[1], stamp_of(arguments))
        say(
            tr(
                "Joined: {seen_together_words}.",
                seen_together_words=seen_together(shop, [record.id])[0].words,
            )
        )
    return 0
