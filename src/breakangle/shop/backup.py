"""Backups: made while others write, called done only when opened, checked and counted; daily, rotated."""

import hashlib
import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import func, select

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.shop.blobs import blob_names, blob_path, get_blob, keep_blob, write_whole
from breakangle.shop.errors import ShopDamagedError, ShopOutOfReachError
from breakangle.shop.opening import said_plainly
from breakangle.shop.stamp import from_utc_text, utc_text
from breakangle.shop.store import Shop
from breakangle.shop.tables import ATTACHMENT, METADATA

BACKUPS, RECORDS, MANIFEST, REPLACED = "backups", "shop.db", "backup.json", "replaced"
LOGS = (f"{RECORDS}-wal", f"{RECORDS}-shm")
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
    """Make and verify a backup of a shop whose records are a file, and return it; others may write meanwhile.

    Raises:
        ChooseAnotherFileError: the records are on a server (`breakangle export` keeps those).
        ShopOutOfReachError: the disk is full or the folder cannot be written.
        ShopDamagedError: the records, or a file beside them, are damaged: no backup was made.
    """
    if not isinstance(shop.place, Path):
        given = "the records are on a server"
        raise ChooseAnotherFileError(given, "its own backups", "or write everything with `breakangle export`")
    target = (folder or shop.folder / BACKUPS) / at.strftime("%Y-%m-%dT%H%M%SZ")
    unfinished = target.with_name(f".unfinished-{target.name}")
    last = max(target.parent.glob("*Z"), default=None)
    try:
        shutil.rmtree(unfinished, ignore_errors=True)
        unfinished.mkdir(parents=True)
        with said_plainly():
            copy_records(shop.place, unfinished / RECORDS)
        names = _attached(unfinished / RECORDS)
        for name in names:
            get_blob(shop.folder, name)
            keep_blob(shop.folder, unfinished, name, link_to=last)
            _whole_from(shop.folder, unfinished, name)
        manifest = {
            "format": "breakangle/backup/1",
            "made_at": utc_text(at),
            "sha256": _hash(unfinished / RECORDS),
            "counts": counted(unfinished / RECORDS),
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
        shutil.rmtree(unfinished, ignore_errors=True)
    return replace(made, path=target)


def _whole_from(source: Path, target: Path, name: str) -> None:
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
    """Return how many rows each table of the file holds."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
        return {
            name: int(connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0])
            for name in sorted(METADATA.tables)
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
    except (OSError, ValueError, KeyError, TypeError) as cause:
        raise ChooseAnotherFileError(
            f"{path} is no backup", "", "choose one that `breakangle doctor` lists"
        ) from cause
    damaged = ShopDamagedError(f"the backup {path.name} is damaged", "", "use another")
    try:
        if (
            _hash(path / RECORDS) != told["sha256"]
            or counted(path / RECORDS) != counts
            or _ailing(path / RECORDS)
        ):
            raise damaged
    except (OSError, sqlite3.Error) as cause:
        raise damaged from cause
    names = _attached(path / RECORDS)
    for name in names:
        get_blob(path, name)
    return Backup(path, made_at, counts, len(names))


def backups(shop: Shop) -> list[tuple[datetime, Path]]:
    """Return every backup in the shop's own folder with the time it was made, newest first."""
    found = []
    for manifest in (shop.folder / BACKUPS).glob(f"*/{MANIFEST}"):
        try:
            found.append((from_utc_text(json.loads(manifest.read_text())["made_at"]), manifest.parent))
        except (OSError, ValueError, KeyError):
            continue
    return sorted(found, reverse=True)


def daily_backup(shop: Shop, now: datetime) -> Backup | None:
    """Make a backup if the last is a day old and let go of old ones; None if none was due."""
    made = backups(shop)
    if not shop.is_file or (made and now - made[0][0] < DAY):
        return None
    new = make_backup(shop, now)
    rotate(shop)
    return new


def rotate(shop: Shop) -> list[Path]:
    """Remove what is older than need be: one a day for 7 days, one a week for 5 weeks, one a month for a year."""
    kept: set[Path] = set()
    for form, most in (("%Y-%m-%d", KEPT_DAYS), ("%G-%V", KEPT_WEEKS), ("%Y-%m", KEPT_MONTHS)):
        newest: dict[str, Path] = {}
        for at, path in backups(shop):
            newest.setdefault(at.strftime(form), path)
        kept |= set(list(newest.values())[:most])
    gone = [path for _, path in backups(shop) if path not in kept]
    for path in gone:
        shutil.rmtree(path)
    return gone


def restore_backup(folder: Path, backup: Path, at: datetime) -> Path:
    """Put a verified backup in the place of a shop's files, and return where the replaced ones now lie.

    The backup is first made into a new shop beside the old one, opened and checked; then the old is kept aside, and
    only then is the one file of records swapped for the other. No program may have the shop open.

    Raises:
        ChooseAnotherFileError: it is no backup.
        ShopDamagedError: the backup is damaged; the shop stays as it was.
        ShopOutOfReachError: the folder cannot be written; the shop stays as it was.
    """
    verified(backup)
    new, old = folder / ".restored", folder / REPLACED / at.strftime("%Y-%m-%dT%H%M%S.%fZ")
    try:
        shutil.rmtree(new, ignore_errors=True)
        new.mkdir(parents=True)
        shutil.copy2(backup / RECORDS, new / RECORDS)
        trial = Shop(new / RECORDS, new)
        trial.close()
        _kept_aside(folder, old)
        for name in _attached(new / RECORDS):
            _whole_from(backup, folder, name)
        # A log that belongs to the old file must not be taken for the new one's.
        for part in LOGS:
            (folder / part).unlink(missing_ok=True)
        (new / RECORDS).replace(folder / RECORDS)
        shutil.rmtree(new)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            f"{folder} cannot be written: {reason}", "", "what was there is kept"
        ) from cause
    return old


def _kept_aside(folder: Path, old: Path) -> None:
    """Copy what stands in the shop's folder to `old`, damaged or not; recordings are linked to where they lie.

    A damaged one is replaced afterwards, not written over, so the link keeps what was there.
    """
    old.mkdir(parents=True)
    for part in (RECORDS, *LOGS):
        if (folder / part).exists():
            shutil.copy2(folder / part, old / part)
    for name in blob_names(folder):
        keep_blob(folder, old, name, link_to=folder)


def records_counted(shop: Shop) -> dict[str, int]:
    """Return how many rows each table of the shop holds now."""
    with shop.reading() as connection:
        return {
            name: int(connection.execute(select(func.count()).select_from(table)).scalar_one())
            for name, table in sorted(METADATA.tables.items())
        }


def _attached(path: Path) -> list[str]:
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
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
