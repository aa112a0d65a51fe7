"""Backups: made while others write, called done only when opened, checked and counted; daily, rotated."""

import hashlib
import json
import shutil
import sqlite3
import tempfile
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import func, select

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.shop.blobs import UNFINISHED, blob_path, get_blob, keep_blob, sound_blob, write_whole
from breakangle.shop.errors import ShopDamagedError, ShopOutOfReachError
from breakangle.shop.exchange import export_shop, reading_zip
from breakangle.shop.opening import said_plainly
from breakangle.shop.stamp import from_utc_text, utc_text
from breakangle.shop.store import Shop
from breakangle.shop.tables import ATTACHMENT, METADATA

BACKUPS, RECORDS, EXPORT, MANIFEST = "backups", "shop.db", "shop.zip", "backup.json"
DAY = timedelta(days=1)
KEPT_DAYS, KEPT_WEEKS, KEPT_MONTHS = 7, 5, 12


@dataclass(frozen=True)
class Backup:
    """A verified backup: where it is, when it was made, how many records and files it holds."""

    path: Path
    made_at: datetime
    counts: dict[str, int]
    blobs: int


def make_backup(shop: Shop, at: datetime, folder: Path | None = None) -> Backup:
    """Make and verify a backup of the shop, and return it; others may write meanwhile.

    Of records in a file, a copy of the file; of records on a server, an export of one moment.

    Raises:
        ShopOutOfReachError: the disk is full, the folder cannot be written, or the records cannot be reached.
        ShopDamagedError: the records, or a file beside them, are damaged: no backup was made.
    """
    target = (folder or shop.folder / BACKUPS) / at.strftime("%Y-%m-%dT%H%M%SZ")
    last = max(target.parent.glob("*Z"), default=None)
    unfinished = None
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        unfinished = Path(tempfile.mkdtemp(prefix=f"{UNFINISHED}{target.name}-", dir=target.parent))
        records, counts = _records_copied(shop, unfinished)
        names = attached(records)
        for name in names:
            sound_blob(shop.folder, name)
            keep_blob(shop.folder, unfinished, name, link_to=last)
            whole_from(shop.folder, unfinished, name)
        manifest = {
            "format": "breakangle/backup/1",
            "made_at": utc_text(at),
            "records": records.name,
            "sha256": _hash(records),
            "counts": counts,
            "blobs": len(names),
        }
        write_whole(unfinished / MANIFEST, json.dumps(manifest, indent=2).encode())
        made = verified(unfinished)
        shutil.rmtree(target, ignore_errors=True)
        unfinished.rename(target)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            f"{target.parent} cannot be written: {reason}", "no backup was made"
        ) from cause
    finally:
        if unfinished is not None:
            shutil.rmtree(unfinished, ignore_errors=True)
    return replace(made, path=target)


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
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as cause:
        raise ChooseAnotherFileError(
            f"{path} is no backup", "", "choose one that `breakangle restore` lists"
        ) from cause
    damaged = ShopDamagedError(f"the backup {path.name} is damaged", "", "use another")
    try:
        if _hash(records) != told["sha256"] or _opened_and_counted(records) != counts:
            raise damaged
        names = attached(records)
    except (OSError, sqlite3.Error, ChooseAnotherFileError) as cause:
        raise damaged from cause
    for name in names:
        sound_blob(path, name)
    return Backup(path, made_at, counts, len(names))


def _opened_and_counted(records: Path) -> dict[str, int] | None:
    """Return how many rows of each table the copy holds; None if anything is wrong in it."""
    if records.name == EXPORT:
        with reading_zip(records) as zipped:
            return zipped.counted()
    return None if _ailing(records) else counted(records)


def backups(shop: Shop) -> list[tuple[datetime, Path]]:
    """Return every backup in the shop's own folder with the time it was made, newest first."""
    found = []
    for manifest in (shop.folder / BACKUPS).glob(f"*/{MANIFEST}"):
        try:
            found.append((from_utc_text(json.loads(manifest.read_text())["made_at"]), manifest.parent))
        except (OSError, ValueError, KeyError):
            continue
    return sorted(found, reverse=True)


def last_backup_at(shop: Shop) -> datetime | None:
    """Return when the newest backup in the shop's own folder was made."""
    return next((at for at, _ in backups(shop)), None)


def daily_backup(shop: Shop, now: datetime) -> Backup | None:
    """Make a backup if the last is a day old and let go of old ones; None if none was due."""
    made = backups(shop)
    if made and now - made[0][0] < DAY:
        return None
    new = make_backup(shop, now)
    rotate(shop)
    return new


def rotate(shop: Shop) -> list[Path]:
    """Remove what is older than need be: one a day for 7 days, one a week for 5 weeks, one a month for a year.

    What cannot be removed now is left for the next time: the new backup is made all the same.
    """
    kept: set[Path] = set()
    for form, most in (("%Y-%m-%d", KEPT_DAYS), ("%G-%V", KEPT_WEEKS), ("%Y-%m", KEPT_MONTHS)):
        newest: dict[str, Path] = {}
        for at, path in backups(shop):
            newest.setdefault(at.strftime(form), path)
        kept |= set(list(newest.values())[:most])
    gone = [path for _, path in backups(shop) if path not in kept]
    for path in gone:
        shutil.rmtree(path, ignore_errors=True)
    return [path for path in gone if not path.exists()]


def records_counted(shop: Shop) -> dict[str, int]:
    """Return how many rows each table of the shop holds now."""
    with shop.reading() as connection:
        return {
            name: int(connection.execute(select(func.count()).select_from(table)).scalar_one())
            for name, table in sorted(METADATA.tables.items())
        }


def attached(records: Path) -> list[str]:
    """Return the hash of every recording and photograph that a backup's records name, in order."""
    if records.name == EXPORT:
        with reading_zip(records) as zipped:
            return sorted({str(row["hash"]) for row in zipped.rows(ATTACHMENT.name)})
    with closing(sqlite3.connect(f"file:{records}?mode=ro", uri=True)) as connection:
        rows = connection.execute(f"SELECT DISTINCT hash FROM {ATTACHMENT.name} ORDER BY hash").fetchall()
    return [row[0] for row in rows]


def _ailing(path: Path) -> bool:
    """Return whether SQLite finds anything wrong in the file."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
        whole = connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return not whole or bool(connection.execute("PRAGMA foreign_key_check").fetchall())


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
