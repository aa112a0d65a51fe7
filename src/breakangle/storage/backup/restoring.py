"""A backup in the place of the shop: made into a new shop first, checked, and only then swapped."""

import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, delete, text

from breakangle.model.words.speech import tr
from breakangle.storage.backup.copies import attached, copy_records, make_backup, verified, whole_from
from breakangle.storage.connection.changes import forget_counts
from breakangle.storage.connection.identity import identity_in_file, note_identity
from breakangle.storage.connection.opening import PRAGMAS
from breakangle.storage.connection.plainly import SAFE, said_plainly
from breakangle.storage.exchange.exchange import export_shop, load, reading_zip
from breakangle.storage.files.backup_listing import BACKUPS, EXPORT, RECORDS, note_restored
from breakangle.storage.files.blobs import blob_names, keep_blob
from breakangle.storage.records.devices import forget_devices
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import ShopDamagedError, ShopOutOfReachError
from breakangle.storage.schema.tables import ANSWERED, IDENTITY, METADATA

REPLACED, RESTORED = "replaced", ".restored"
LOGS = (f"{RECORDS}-wal", f"{RECORDS}-shm")
# What SQLite refuses although the file may be whole: held by others, no room, no leave. All else is damage.
NO_DAMAGE = (
    sqlite3.SQLITE_PERM, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_NOMEM, sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_INTERRUPT, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL, sqlite3.SQLITE_CANTOPEN,
)  # fmt: skip


def restore_backup(folder: Path, backup: Path, at: datetime) -> Path:
    """Put a verified backup in the place of a shop's files, and return where the replaced ones now lie.

    The backup is first made into a new shop beside the old one, opened and checked; then nobody else may write, the
    old is kept aside, and in the same transaction its content is replaced. So what others stored until then is in the
    replaced one, and what they store afterwards in the new; whoever writes meanwhile waits, or is told to try again.
    Devices are to be paired anew: one that was revoked since the backup must not come in again.

    Raises:
        ChooseAnotherFileError: it is no backup.
        ShopDamagedError: the backup is damaged; the shop stays as it was.
        ShopOutOfReachError: the folder cannot be written, or the records are held by another; the shop stays as it was.
    """
    missing = verified(backup).missing
    new, old = folder / RESTORED, folder / REPLACED / at.strftime("%Y-%m-%dT%H%M%S.%fZ")
    try:
        as_a_new_shop(backup, new).close()
        old.mkdir(parents=True)
        _files_aside(folder, old)
        for name in attached(records_of(backup)):
            if name not in missing:
                whole_from(backup, folder, name)
        with said_plainly():
            _put_in_place(folder, new, old)
        note_identity(folder, identity_in_file(folder / RECORDS))
        note_restored(folder / BACKUPS)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            tr("{folder} cannot be written: {reason}", folder=folder, reason=reason),
            "",
            tr("what was there is kept"),
        ) from cause
    finally:
        shutil.rmtree(new, ignore_errors=True)
        if not (old / RECORDS).exists():
            shutil.rmtree(old, ignore_errors=True)
    return old


def restore_on_server(shop: Shop, backup: Path, at: datetime) -> Path:
    """Put a verified backup in the place of a server's records, and return where a backup of the replaced lies.

    The backup is first made into a new shop in a file, opened and checked; then nobody else may write, what the server
    holds is backed up, and in the same transaction all its rows are replaced, which others see whole or not at all.
    Devices are to be paired anew; what devices were answered is kept, so that what they send again is still stored
    once.

    Raises:
        ChooseAnotherFileError: it is no backup.
        ShopDamagedError: the backup is damaged; the records stay as they were.
        ShopOutOfReachError: the folder or the server cannot be written; the records stay as they were.
    """
    missing = verified(backup).missing
    new = shop.folder / RESTORED
    try:
        scratch = as_a_new_shop(backup, new)
        try:
            counts = export_shop(scratch, new / EXPORT, blobs=False)
        finally:
            scratch.close()
        with shop.writing() as connection:
            _hold_others(connection)
            # By another connection: it sees what was stored before the tables were held, and nothing comes after.
            old = make_backup(shop, at, shop.folder / REPLACED).path
            for name in attached(records_of(backup)):
                if name not in missing:
                    whole_from(backup, shop.folder, name)
            _replace_rows(connection, new / EXPORT, counts)
        note_identity(shop.folder, shop.identity)
        note_restored(shop.folder / BACKUPS)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            tr("{folder} cannot be written: {reason}", folder=shop.folder, reason=reason),
            "",
            tr("what was there is kept"),
        ) from cause
    finally:
        shutil.rmtree(new, ignore_errors=True)
    return old


def records_of(backup: Path) -> Path:
    """Return the file of a backup that holds the records."""
    return backup / (RECORDS if (backup / RECORDS).exists() else EXPORT)


def as_a_new_shop(backup: Path, folder: Path) -> Shop:
    """Return a new shop in `folder` with everything of the backup but its files, brought to this schema."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    records = records_of(backup)
    if records.name == RECORDS:
        shutil.copy2(records, folder / RECORDS)
    made = Shop(folder / RECORDS, folder)
    with made.writing() as connection:
        if records.name == EXPORT:
            with reading_zip(records) as zipped:
                load(connection, zipped)
        forget_devices(connection)
        forget_counts(connection)
    return made


# Every table that a restore replaces; what devices were answered stays, and so does the shop's own name.
SWAPPED = [table for table in METADATA.sorted_tables if table.name not in (ANSWERED.name, IDENTITY.name)]


def _hold_others(connection: Connection) -> None:
    """Let others read on, and let those who write wait until the transaction ends."""
    every = ", ".join(f'"{one.name}"' for one in SWAPPED)
    connection.execute(text(f"LOCK TABLE {every} IN EXCLUSIVE MODE"))


def _replace_rows(connection: Connection, export: Path, counts: dict[str, int]) -> None:
    with reading_zip(export) as zipped:
        for one in reversed(SWAPPED):  # not TRUNCATE: a transaction begun before would see its tables empty
            connection.execute(delete(one))
        done = load(connection, zipped)
        if done.kept or done.added_count != sum(counts.values()):
            raise ShopDamagedError(
                tr("the backup contradicts itself"), tr("the records stay as they were"), tr("use another")
            )


def _put_in_place(folder: Path, new: Path, old: Path) -> None:
    """Keep the records of `folder` aside in `old`, and put those of `new` in their place."""

    def aside() -> None:
        _files_aside(folder, old)
        copy_records(folder / RECORDS, old / RECORDS)

    if (folder / RECORDS).exists():
        try:
            _written_over(folder / RECORDS, new / RECORDS, aside)
            return
        except sqlite3.DatabaseError as cause:
            if getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF in NO_DAMAGE:
                raise
    _swapped(folder, new, old)


def _written_over(live: Path, new: Path, aside: Callable[[], None]) -> None:
    """Make the file `live` hold what `new` does, in one transaction; `aside` is called once no other can write.

    Who has it open keeps a file that counts, which one whose name was given to another would not be.
    """
    held = False

    def stepped(status: int, remaining: int, total: int) -> None:
        nonlocal held
        del remaining, total
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise ShopOutOfReachError(
                tr("another program holds the records"), tr(SAFE), tr("try again in a moment")
            )
        if not held:
            aside()
        held = True

    with closing(sqlite3.connect(new)) as source, closing(sqlite3.connect(live)) as target:
        for pragma in PRAGMAS:
            target.execute(pragma)
        sizes = {one.execute("PRAGMA page_size").fetchone()[0] for one in (source, target)}
        if len(sizes) > 1:
            raise sqlite3.DatabaseError("no file of this program")
        # The first page takes the lock on writing, and the last gives it back: there is always more than one.
        source.backup(target, pages=1, progress=stepped)


def _swapped(folder: Path, new: Path, old: Path) -> None:
    """Put the new file in the place of a damaged one, which goes to `old` as it is, under the same inode if it can.

    Whoever still has the damaged one open then writes to where it lies now.
    """
    for part in (RECORDS, *LOGS):
        (old / part).unlink(missing_ok=True)
        if (folder / part).exists():
            try:
                os.link(folder / part, old / part)
            except OSError:  # a disk that knows no links
                shutil.copy2(folder / part, old / part)
    # A log that belongs to the old file must not be taken for the new one's.
    for part in LOGS:
        (folder / part).unlink(missing_ok=True)
    (new / RECORDS).replace(folder / RECORDS)


def _files_aside(folder: Path, old: Path) -> None:
    """Link the recordings and photographs in `old` to where they lie.

    A damaged one is replaced afterwards, not written over, so the link keeps what was there.
    """
    for name in blob_names(folder):
        keep_blob(folder, old, name, link_to=folder)
