"""`breakangle doctor`: everything that can be wrong with the shop, and how to mend it."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, now, opened
from breakangle.model.errors import BreakangleError
from breakangle.model.words.speech import capital, tr

UNWELL, CANNOT_OPEN = 1, 2


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "doctor",
        help=tr("check everything in the shop and say how to mend it"),
        description=tr(
            "Check the records, the numbers, every recording and photograph, the disk and the backups."
        ),
        epilog=tr(
            "Where the records are damaged or gone, it names the newest good backup and the "
            "command that puts it back. Exit codes: 0 all is well, 1 something is not, 2 the "
            "shop cannot be opened"
        ),
    )
    verb.add_argument(
        "--mend", action="store_true", help=tr("remove half-written files and files of no visit")
    )
    add_shop(verb)


def run(arguments: argparse.Namespace) -> int:
    """Print each finding and return 1 if one of them is not well.

    Raises:
        BreakangleError: the shop cannot be opened.
    """
    from breakangle.services.records.upkeep import examined, mended
    from breakangle.storage.schema.errors import ShopDamagedError

    try:
        with opened(arguments) as shop:
            if arguments.mend:
                say(tr("Removed: {mended}.", mended=mended(shop)))
            found = examined(shop, now())
    except ShopDamagedError as error:
        return _told_way_back(error)
    for one in found:
        say(
            f"{tr('well') if one.well else tr('NOT WELL')}: {one.what}."
            + (tr(" Mend it: {mend}.", mend=one.mend) if one.mend else "")
        )
    return 0 if all(one.well for one in found) else UNWELL


def _told_way_back(error: BreakangleError) -> int:
    """Say what is wrong with a shop that cannot be opened, and which backup to put back."""
    from breakangle.services.records.upkeep import kept_backups, why_not_good
    from breakangle.services.workshop.opening import where

    say(
        tr("NOT WELL: {given}.", given=error.given)
        + (f" {capital(error.possible)}." if error.possible else "")
    )
    places = where()
    for backup in kept_backups(places.folder):
        wrong, rows = why_not_good(backup.path), sum(backup.counts.values())
        made_at = tr("{made_at:%Y-%m-%d %H:%M} UTC", made_at=backup.made_at)
        if wrong:
            say(tr("NOT WELL: the backup of {made_at}: {wrong}.", made_at=made_at, wrong=wrong))
            continue
        say(tr("well: the backup of {made_at} holds {rows} records.", made_at=made_at, rows=rows))
        say(tr("Put it back: breakangle restore {path_name}", path_name=backup.path.name))
        return CANNOT_OPEN
    say(
        tr(
            "There is no good backup in {backups}. Bring the shop's file or folder back.",
            backups=places.backups,
        )
    )
    return CANNOT_OPEN
