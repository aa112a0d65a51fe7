"""Which shop this is: a name of its own in the records, in the folder and in every backup.

With it an empty or foreign file beside the backups of a shop is an alarm and not a new shop.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection, select

from breakangle.model.words.speech import tr
from breakangle.storage.files.blobs import write_whole
from breakangle.storage.schema.errors import ShopDamagedError
from breakangle.storage.schema.tables import IDENTITY

NOTE = "shop-identity"


def identity_of(connection: Connection) -> str:
    """Return the name of the shop in these records.

    Raises:
        ShopDamagedError: it has none.
    """
    found = connection.execute(select(IDENTITY.c.id)).scalar()
    if found is None:
        raise ShopDamagedError(
            tr("the shop's records have lost their name"),
            "",
            tr("run `breakangle doctor`, then `breakangle restore`"),
        )
    return str(found)


def identity_in_file(path: Path) -> str:
    """Return the name of the shop in a SQLite file; nothing where it has none or cannot be read."""
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
            row = connection.execute(f"SELECT id FROM {IDENTITY.name}").fetchone()
    except sqlite3.Error:
        return ""
    return "" if row is None else str(row[0])


def noted_identity(folder: Path) -> str:
    """Return the name of the shop whose folder this is; nothing where no note says so."""
    try:
        return (folder / NOTE).read_text(encoding="utf-8").strip()
    except (OSError, ValueError):
        return ""


def note_identity(folder: Path, name: str) -> None:
    """Write down whose folder this is.

    Raises:
        ShopOutOfReachError: it cannot be written.
    """
    if noted_identity(folder) != name:
        write_whole(folder / NOTE, name.encode() + b"\n")
