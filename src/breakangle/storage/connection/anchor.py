"""Whether the open records are still those at their place: nothing is acknowledged that went somewhere else.

A folder may be deleted, renamed or replaced while a program has the file in it open; the system then goes on writing
to a file that nobody will find again.
"""

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Engine

from breakangle.model.words.speech import mark, tr
from breakangle.storage.connection.identity import (
    NOTE,
    identity_in_file,
    identity_of,
    note_identity,
    noted_identity,
)
from breakangle.storage.files.backup_listing import BACKUPS, backups
from breakangle.storage.schema.errors import ShopMissingError, ShopMovedError, ShopOutOfReachError
from breakangle.storage.schema.tables import IDENTITY, VISIT

NOT_STORED = mark("nothing was stored")


@dataclass(frozen=True)
class Anchor:
    """Where the open records lie: which file of which disk, and whose."""

    path: Path
    device: int
    inode: int
    shop: str

    def check(self, stored: bool = False) -> None:
        """Return if the file at the path is still the open one.

        Args:
            stored: whether the transaction is over, so that what was written lies in a file that nobody will find.

        Raises:
            ShopMovedError: it is not.
        """
        try:
            there = self.path.stat()
        except OSError:
            there = None
        if there is None:
            given = tr(
                "the shop's file {path} is gone: its folder was deleted, renamed or taken away",
                path=self.path,
            )
        elif (there.st_dev, there.st_ino) != (self.device, self.inode):
            given = tr("another file lies in the place of the shop's file {path}", path=self.path)
        else:
            return
        outcome = tr("what was just entered is not in the shop") if stored else tr(NOT_STORED)
        raise ShopMovedError(
            given, outcome, tr("bring the folder back, or restore a backup, then enter it again")
        )


def check_place(path: Path) -> None:
    """Return if a SQLite file may be opened, or made new, at this path.

    Raises:
        ShopMissingError: it is gone, empty or another shop's, and what lies beside it shows that there was a shop.
    """
    noted, kept = noted_identity(path.parent), backups(path.parent / BACKUPS)
    if not noted and not kept:
        return
    restore = tr("put the newest good one back: `breakangle restore`") if kept else ""
    remedy = restore or tr(
        "bring the file back, or, to begin a new shop, move {parent} away", parent=path.parent
    )
    beside = tr("{kept_count} backups of it are there", kept_count=len(kept)) if kept else ""
    if not path.exists() or path.stat().st_size == 0:
        state = tr("empty") if path.exists() else tr("gone")
        raise ShopMissingError(
            tr("the shop's records {path} are {state}", path=path, state=state), beside, remedy
        )
    found = identity_in_file(path)
    if noted and found and found != noted:
        given = tr("the records {path} are those of another shop", path=path)
        raise ShopMissingError(
            given,
            beside,
            tr("{remedy}, or, to use them, move {parent} away", remedy=remedy, parent=path.parent / NOTE),
        )


def check_new_on_server(engine: Engine, folder: Path) -> None:
    """Return if a server's database that holds no shop may be made one.

    Raises:
        ShopMissingError: beside it lie the backups of a shop.
    """
    with engine.connect() as connection:
        if connection.dialect.has_table(connection, IDENTITY.name) or connection.dialect.has_table(
            connection, VISIT.name
        ):
            return
    kept = backups(folder / BACKUPS)
    if kept:
        beside = tr(
            "{kept_count} backups of a shop are in {folder}", kept_count=len(kept), folder=folder / BACKUPS
        )
        raise ShopMissingError(
            tr("the database is empty"), beside, tr("put the newest good one back: `breakangle restore`")
        )


def whose(engine: Engine, folder: Path, instead: bool = False) -> str:
    """Return the name of the shop just opened, and write it down in the folder where nothing is written down.

    Where a backup is about to be put in its place (`instead`) nothing is compared or written.

    Raises:
        ShopMissingError: the folder is another shop's.
    """
    with engine.connect() as connection:
        shop = identity_of(connection)
    noted = noted_identity(folder)
    if instead:
        return shop
    if noted and noted != shop:
        remedy = tr(
            "name the right folder or database, or, to use both together, move {folder} away",
            folder=folder / NOTE,
        )
        raise ShopMissingError(
            tr("the folder {folder} belongs to another shop than the records", folder=folder), "", remedy
        )
    if not noted:
        with suppress(ShopOutOfReachError):  # a folder that may only be read can be looked at all the same
            note_identity(folder, shop)
    return shop


def anchored(path: Path, shop: str) -> Anchor:
    """Return where the records just opened lie.

    Raises:
        ShopMovedError: they are gone again already.
    """
    try:
        there = path.stat()
    except OSError as cause:
        raise ShopMovedError(
            tr("the shop's file {path} is gone", path=path), tr(NOT_STORED), tr("look where it went")
        ) from cause
    return Anchor(path, there.st_dev, there.st_ino, shop)


def check_server(connection: Connection, shop: str) -> None:
    """Return if the server still holds the shop that was opened.

    Raises:
        ShopMovedError: another shop's records lie there now.
    """
    if identity_of(connection) != shop:
        raise ShopMovedError(
            tr("the database now holds another shop"), tr(NOT_STORED), tr("start the program again")
        )
