"""Words and files taken out of records for good: out of every table, the journal, the index and the free pages."""

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, MetaData, Table, create_engine, delete, select, text, update
from sqlalchemy.engine import URL

from breakangle.storage.backup.erased_words import GONE, ErasedWords
from breakangle.storage.files.backup_listing import EXPORT, MANIFEST, RECORDS
from breakangle.storage.files.blobs import THUMBNAILS, blob_path, write_whole

SQLITE_HEAD = b"SQLite format 3\0"
Rows = frozenset[str]


@dataclass(frozen=True)
class Erasure:
    """What is to be erased.

    `words` go everywhere; `parts`, such as a first name alone, only in the person's `own` records, since elsewhere they
    may be anybody's, and `exact` of them only as they are written; `photographs` are rows of attachments, `files`
    hashes whose bytes go, `instead` files that others take the place of, by the old hash, and `new_files` their bytes.
    """

    owner: str
    own: Rows
    words: tuple[str, ...]
    parts: tuple[str, ...]
    photographs: Rows
    files: Rows
    instead: Mapping[str, str]
    new_files: Mapping[str, bytes]
    exact: Rows = frozenset()

    @cached_property
    def _said(self) -> ErasedWords:
        return ErasedWords(self.words, self.parts, self.exact)

    def without(self, words: str, own: bool, column: str = "text") -> str:
        """Return a column's text without the person; of the person's `own` records, without parts of the name too."""
        return self._said.out_of_value(column, self._renamed(words), own)

    def without_on_page(self, page: str, own: bool) -> str:
        """Return a page of HTML without the person."""
        return self._said.out_of_page(self._renamed(page), own)

    def _renamed(self, words: str) -> str:
        for old, new in self.instead.items():
            words = words.replace(old, new)
        return words


def erase_rows(connection: Connection, erasure: Erasure) -> None:
    """Take the person out of every table that is there, whichever version made it."""
    found = MetaData()
    found.reflect(connection, only=lambda name, _: not name.startswith(("found_words", "alembic", "sqlite_")))
    with _all_open(connection):
        _erase_tables(connection, found, erasure)


def _erase_tables(connection: Connection, found: MetaData, erasure: Erasure) -> None:
    for table in found.sorted_tables:
        if table.name == "attachment":
            connection.execute(delete(table).where(table.c.id.in_(erasure.photographs)))
        if table.name == "change":
            gone = erasure.photographs | {erasure.owner}
            connection.execute(delete(table).where(table.c.record_id.in_(gone)))
        if table.name == "owner":
            nobody = {"name": GONE, "contact": "", "notes": ""}
            connection.execute(update(table).where(table.c.id == erasure.owner).values(nobody))
        if table.name == "found":
            connection.execute(delete(table).where(table.c.record_id.in_(erasure.photographs)))
        _erase_words(connection, table, erasure)


@contextmanager
def _all_open(connection: Connection) -> Iterator[None]:
    """Let closed sheets and entries be written in this transaction, which the records else refuse to everybody."""
    if connection.dialect.name == "postgresql":
        for name in ("closing", "entry"):
            connection.execute(text(f"ALTER TABLE {name} DISABLE TRIGGER USER"))
        yield
        for name in ("closing", "entry"):
            connection.execute(text(f"ALTER TABLE {name} ENABLE TRIGGER USER"))
        return
    held = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name IN ('closing', 'entry')"
    triggers = connection.execute(text(held)).all()
    for name, _ in triggers:
        connection.exec_driver_sql(f'DROP TRIGGER "{name}"')
    yield
    for _, made in triggers:
        connection.exec_driver_sql(made)


def _erase_words(connection: Connection, table: Table, erasure: Erasure) -> None:
    keys = list(table.primary_key.columns)
    for row in connection.execute(select(table)).mappings().all():
        own = any(row.get(name) in erasure.own for name in ("id", "visit_id", "instrument_id", "record_id"))
        changed: dict[str, Any] = {}
        for column in table.columns:
            value = row[column.name]
            if not isinstance(value, str) or column.name == "id" or column.name.endswith("_id"):
                continue
            if (without := erasure.without(value, own, column.name)) != value:
                changed[column.name] = without
        if changed and keys:
            here = [key == row[key.name] for key in keys]
            connection.execute(update(table).where(*here).values(changed))


def erase_file(path: Path, erasure: Erasure) -> None:
    """Take the person out of a SQLite file that nobody has open, and out of its free pages."""
    engine = create_engine(URL.create("sqlite", database=str(path)))
    try:
        with engine.begin() as connection:
            erase_rows(connection, erasure)
    finally:
        engine.dispose()
    without_free_pages(path)


def without_free_pages(path: Path) -> None:
    """Write a SQLite file anew, so that nothing deleted is left in free pages, in the index or in the log."""
    with closing(sqlite3.connect(path, timeout=30.0, isolation_level=None)) as connection:
        connection.execute("PRAGMA secure_delete=ON")
        with suppress(sqlite3.OperationalError):  # an early version has no index
            connection.execute("INSERT INTO found_words (found_words) VALUES ('rebuild')")
        connection.execute("VACUUM")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def erase_files(folder: Path, erasure: Erasure) -> None:
    """Take the person's files out of a folder of blobs, and put in those that take the place of any.

    Raises:
        ShopOutOfReachError: it cannot be written.
    """
    for old, new in erasure.instead.items():
        if blob_path(folder, old).exists():
            write_whole(blob_path(folder, new), erasure.new_files[new])
    for name in (*erasure.files, *erasure.instead):
        blob_path(folder, name).unlink(missing_ok=True)
        (folder / THUMBNAILS / name[:2] / f"{name}.jpg").unlink(missing_ok=True)


def erase_in_copies(folder: Path, live: Path | None, besides: Path, erasure: Erasure, note: str) -> list[str]:
    """Make every other copy of the records under `folder` again without the person; return those that could not be.

    Copies are backups, what a restore kept aside, and what was kept before a change of schema.
    """
    for path in sorted(folder.rglob("*.db")):
        if path == live or path.is_relative_to(besides) or not _is_sqlite(path):
            continue
        erase_file(path, erasure)
        if path.name == RECORDS:
            erase_files(path.parent, erasure)
            _note(path.parent, note)
    return [str(path.relative_to(folder)) for path in sorted(folder.rglob(f"*/{EXPORT}"))]


def _is_sqlite(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(SQLITE_HEAD)) == SQLITE_HEAD
    except OSError:
        return False


def _note(backup: Path, note: str) -> None:
    """Bring a backup's own note up to date: its hash, its counts, and that it was made again."""
    from breakangle.storage.backup.copies import attached, counted

    path = backup / MANIFEST
    if not path.exists():
        return
    content = json.loads(path.read_text(encoding="utf-8"))
    names = attached(backup / RECORDS)
    missing = [name for name in content.get("missing", ()) if name in names]
    content |= {
        "sha256": sha256((backup / RECORDS).read_bytes()).hexdigest(),
        "counts": counted(backup / RECORDS),
        "blobs": len(names) - len(missing),
        "missing": missing,
        "made_again": [*content.get("made_again", ()), {"why": note, "sha256_before": content["sha256"]}],
    }
    write_whole(path, json.dumps(content, indent=2).encode())
