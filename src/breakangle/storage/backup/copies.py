"""A backup: made while others write, called done only when opened, checked and counted."""

import hashlib
import json
import shutil
import sqlite3
import tempfile
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr
from breakangle.storage.connection.identity import identity_of
from breakangle.storage.connection.plainly import said_plainly
from breakangle.storage.exchange.exchange import export_shop, reading_zip
from breakangle.storage.files.backup_listing import BACKUPS, EXPORT, MANIFEST, RECORDS, backups, free_name
from breakangle.storage.files.blobs import (
    UNFINISHED,
    blob_path,
    get_blob,
    keep_blob,
    on_disk,
    sound_blob,
    write_whole,
)
from breakangle.storage.records.closings import hashes_in_file
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import ShopDamagedError, ShopOutOfReachError
from breakangle.storage.schema.stamp import from_utc_text, utc_text
from breakangle.storage.schema.tables import BLOB_HASHES, METADATA


@dataclass(frozen=True)
class Backup:
    """A verified backup: where it is, when it was made, how many records and files it holds.

    `missing` are the hashes of recordings and photographs that were gone or damaged when it was made.
    """

    path: Path
    made_at: datetime
    counts: dict[str, int]
    blobs: int
    missing: tuple[str, ...] = field(default=())


def make_backup(shop: Shop, at: datetime, folder: Path | None = None) -> Backup:
    """Make and verify a backup of the shop, and return it; others may write meanwhile.

    Of records in a file, a copy of the file; of records on a server, an export of one moment. A recording or
    photograph that is gone or damaged is left out and named: the records are worth saving all the same.

    Raises:
        ShopOutOfReachError: the disk is full, the folder cannot be written, or the records cannot be reached.
        ShopDamagedError: the records are damaged: no backup was made.
    """
    place = folder or shop.folder / BACKUPS
    unfinished = None
    try:
        place.mkdir(parents=True, exist_ok=True)
        last = next(iter(backups(place)), None)
        name = free_name(place, at)
        unfinished = Path(tempfile.mkdtemp(prefix=f"{UNFINISHED}{name}-", dir=place))
        records, counts = _records_copied(shop, unfinished)
        names = attached(records)
        missing = [
            name for name in names if not _kept(shop.folder, unfinished, name, last.path if last else None)
        ]
        manifest = {
            "format": "breakangle/backup/1",
            "sequence": last.sequence + 1 if last else 1,
            "shop": _identity(shop),
            "made_at": utc_text(at),
            "records": records.name,
            "sha256": _hash(records),
            "counts": counts,
            "blobs": len(names) - len(missing),
            "missing": missing,
        }
        write_whole(unfinished / MANIFEST, json.dumps(manifest, indent=2).encode())
        made = verified(unfinished)
        on_disk(records)
        target = place / name
        unfinished.rename(target)
        on_disk(place)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            tr("{place} cannot be written: {reason}", place=place, reason=reason), tr("no backup was made")
        ) from cause
    finally:
        if unfinished is not None:
            shutil.rmtree(unfinished, ignore_errors=True)
    return replace(made, path=target)


def _identity(shop: Shop) -> str:
    with shop.reading() as connection:
        return identity_of(connection)


def _kept(source: Path, target: Path, name: str, last: Path | None) -> bool:
    """Put one recording or photograph into the backup, and return whether it could be had whole."""
    try:
        sound_blob(source, name)
    except (ShopDamagedError, ShopOutOfReachError):
        return _kept_of_last(target, name, last)
    keep_blob(source, target, name, link_to=last)
    whole_from(source, target, name)
    return True


def _kept_of_last(target: Path, name: str, last: Path | None) -> bool:
    """Keep what the backup before still holds whole of a file that is damaged or gone in the shop."""
    if last is None:
        return False
    try:
        sound_blob(last, name)
    except (ShopDamagedError, ShopOutOfReachError):
        return False
    keep_blob(last, target, name, link_to=last)
    return True


def _records_copied(shop: Shop, folder: Path) -> tuple[Path, dict[str, int]]:
    """Copy the records as they stand at one moment, and return where to and how many there are of each table."""
    if isinstance(shop.place, Path):
        with said_plainly():
            copy_records(shop.place, folder / RECORDS)
            return folder / RECORDS, counted(folder / RECORDS)
    return folder / EXPORT, export_shop(shop, folder / EXPORT, blobs=False)


def whole_from(source: Path, target: Path, name: str) -> None:
    """Make the file with this hash whole in `target`, from `source` if it is missing or damaged there."""
    try:
        get_blob(target, name)
    except ShopDamagedError:
        write_whole(blob_path(target, name), get_blob(source, name))


def copy_records(source: Path, target: Path) -> None:
    """Copy a SQLite file as it stands at one moment, while others write."""
    with closing(sqlite3.connect(source, timeout=30.0)) as one, closing(sqlite3.connect(target)) as other:
        one.backup(other)
        other.execute("PRAGMA journal_mode=DELETE")


def counted(path: Path) -> dict[str, int]:
    """Return how many rows each table of the file holds; an earlier version's file has fewer tables."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
        here = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        return {
            name: int(connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0])
            for name in sorted(here & set(METADATA.tables))
        }


def verified(path: Path) -> Backup:
    """Return the backup in the folder `path` after opening, checking and counting it.

    Raises:
        ChooseAnotherFileError: it is no backup.
        ShopDamagedError: it is not what was written.
    """
    try:
        told = json.loads((path / MANIFEST).read_text(encoding="utf-8"))
        made_at, counts = from_utc_text(told["made_at"]), dict(told["counts"])
        records = path / Path(told.get("records", RECORDS)).name
        missing = tuple(str(name) for name in told.get("missing", ()))
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as cause:
        raise ChooseAnotherFileError(
            tr("{path} is no backup", path=path), "", tr("choose one that `breakangle restore` lists")
        ) from cause
    damaged = ShopDamagedError(
        tr("the backup {path_name} is damaged", path_name=path.name), "", tr("use another")
    )
    try:
        if _hash(records) != told["sha256"] or _opened_and_counted(records) != counts:
            raise damaged
        names = attached(records)
    except (OSError, sqlite3.Error, ChooseAnotherFileError) as cause:
        raise damaged from cause
    whole = [name for name in names if name not in missing]
    for name in whole:
        sound_blob(path, name)
    return Backup(path, made_at, counts, len(whole), missing)


def _opened_and_counted(records: Path) -> dict[str, int] | None:
    """Return how many rows of each table the copy holds; None if anything is wrong in it."""
    if records.name == EXPORT:
        with reading_zip(records) as zipped:
            return zipped.counted()
    return None if _ailing(records) else counted(records)


def attached(records: Path) -> list[str]:
    """Return the hash of every recording, photograph and closed sheet that a backup's records name, in order."""
    if records.name == EXPORT:
        with reading_zip(records) as zipped:
            return sorted({str(row[one.name]) for one in BLOB_HASHES for row in zipped.rows(one.table.name)})
    with closing(sqlite3.connect(f"file:{records}?mode=ro", uri=True)) as connection:
        return hashes_in_file(connection)


def _ailing(path: Path) -> bool:
    """Return whether SQLite finds anything wrong in the file."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
        whole = connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return not whole or bool(connection.execute("PRAGMA foreign_key_check").fetchall())


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
