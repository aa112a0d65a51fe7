"""`breakangle search`: find owners, instruments, work and notes by words."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "search",
        help=tr("find owners, instruments, work and notes by words"),
        description=tr(
            "Find whatever holds every word, each as the beginning of a word, without accents or case."
        ),
    )
    verb.add_argument("words", metavar="WORD", nargs="+")
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print what was asked for.

    Raises:
        BreakangleError: no such list, or a shop that cannot be reached.
    """
    from breakangle.services.overview.exports import hits, near_hits

    with opened(arguments) as shop:
        words = " ".join(arguments.words)
        found = hits(shop, words)
        if not found:
            instead, found = near_hits(shop, words)
            if found:
                say(
                    tr(
                        'Nothing found for "{words}". Spelled alike, "{instead}":',
                        words=words,
                        instead=instead,
                    )
                )
        for one in found:
            say(f"{one.record_table} {one.record_id} {' '.join(one.words.split())}")
    return 0
