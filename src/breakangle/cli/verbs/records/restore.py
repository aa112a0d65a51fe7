"""`breakangle restore`: a backup in the place of the shop; or a list of the backups."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import now
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its argument."""
    verb = verbs.add_parser(
        "restore",
        help=tr("put a backup in the place of the shop"),
        description=tr(
            "Make a backup into a new shop, check it, then swap it with the one that is there, "
            "which is kept beside it. Without BACKUP: list them. Others may go on using the "
            "shop: whoever writes meanwhile waits, or is told to try again. Only where the "
            "shop's file itself is damaged, close every other program that uses it first. "
            "Devices are to be paired again."
        ),
    )
    verb.add_argument(
        "backup", metavar="BACKUP", nargs="?", help=tr("a backup's folder, or its name in the list")
    )


def run(arguments: argparse.Namespace) -> int:
    """Restore, or list what there is.

    Raises:
        BreakangleError: no backup, a damaged one, or a folder that cannot be written.
    """
    from breakangle.services.records.upkeep import backup_names, restore

    if arguments.backup is None:
        found = backup_names()
        for name in found or (tr("There are no backups yet: breakangle backup"),):
            say(name)
        return 0
    old = restore(arguments.backup, now())
    say(tr("Restored. What was there before is kept in {old}. Devices are to be paired again.", old=old))
    return 0
