"""`breakangle doctor`: everything that can be wrong with the shop, and how to mend it."""

import argparse
from typing import Any

from breakangle.cli.terminal.entry import say
from breakangle.cli.terminal.shop_entry import add_shop, now, opened

UNWELL = 1


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "doctor",
        help="check everything in the shop and say how to mend it",
        description="Check the records, the numbers, every recording and photograph, the disk and the backups.",
        epilog="exit codes: 0 all is well, 1 something is not, 2 the shop cannot be opened",
    )
    verb.add_argument("--mend", action="store_true", help="remove half-written files and files of no visit")
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print each finding and return 1 if one of them is not well.

    Raises:
        BreakangleError: the shop cannot be opened.
    """
    from breakangle.desk.shop_upkeep import examined, mended

    with opened(arguments) as shop:
        if arguments.mend:
            say(f"Removed: {mended(shop)}.")
        found = examined(shop, now())
    for one in found:
        say(
            f"{'well' if one.well else 'NOT WELL'}: {one.what}."
            + (f" Mend it: {one.mend}." if one.mend else "")
        )
    return 0 if all(one.well for one in found) else UNWELL
