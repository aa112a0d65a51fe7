"""A backup in the place of the shop: made into a new shop first, checked, and only then swapped."""

import shutil
from datetime import datetime
from pathlib import Path

from sqlalchemy import delete, text

from breakangle.shop.backup import EXPORT, RECORDS, attached, make_backup, verified, whole_from
from breakangle.shop.blobs import blob_names, keep_blob
from breakangle.shop.devices import forget_devices
from breakangle.shop.errors import ShopDamagedError, ShopOutOfReachError
from breakangle.shop.exchange import export_shop, load, reading_zip
from breakangle.shop.store import Shop
from breakangle.shop.tables import ANSWERED, METADATA

REPLACED, RESTORED = "replaced", ".restored"
LOGS = (f"{RECORDS}-wal", f"{RECORDS}-shm")


def restore_backup(folder: Path, backup: Path, at: datetime) -> Path:
    """Put a verified backup in the place of a shop's files, and return where the replaced ones now lie.

    The backup is first made into a new shop beside the old one, opened and checked; then the old is kept aside, and
    only then is the one file of records swapped for the other. No program may have the shop open. Devices are to be
    paired anew: one that was revoked since the backup must not come in again.

    Raises:
        ChooseAnotherFileError: it is no backup.
        ShopDamagedError: the backup is damaged; the shop stays as it was.
        ShopOutOfReachError: the folder cannot be written; the shop stays as it was.
    """
    verified(backup)
    new, old = folder / RESTORED, folder / REPLACED / at.strftime("%Y-%m-%dT%H%M%S.%fZ")
    try:
        _as_a_new_shop(backup, new).close()
        _kept_aside(folder, old)
        for name in attached(_records_of(backup)):
            whole_from(backup, folder, name)
        # A log that belongs to the old file must not be taken for the new one's.
        for part in LOGS:
            (folder / part).unlink(missing_ok=True)
        (new / RECORDS).replace(folder / RECORDS)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            f"{folder} cannot be written: {reason}", "", "what was there is kept"
        ) from cause
    finally:
        shutil.rmtree(new, ignore_errors=True)
    return old


def restore_on_server(shop: Shop, backup: Path, at: datetime) -> Path:
    """Put a verified backup in the place of a server's records, and return where a backup of the replaced lies.

    The backup is first made into a new shop in a file, opened and checked; what the server holds is backed up; and
    then all its rows are replaced in one transaction, which others see whole or not at all. Devices are to be paired
    anew; what devices were answered is kept, so that what they send again is still stored once.

    Raises:
        ChooseAnotherFileError: it is no backup.
        ShopDamagedError: the backup is damaged; the records stay as they were.
        ShopOutOfReachError: the folder or the server cannot be written; the records stay as they were.
    """
    verified(backup)
    new = shop.folder / RESTORED
    try:
        scratch = _as_a_new_shop(backup, new)
        try:
            counts = export_shop(scratch, new / EXPORT, blobs=False)
        finally:
            scratch.close()
        old = make_backup(shop, at, shop.folder / REPLACED).path
        for name in attached(_records_of(backup)):
            whole_from(backup, shop.folder, name)
        _replace_rows(shop, new / EXPORT, counts)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            f"{shop.folder} cannot be written: {reason}", "", "what was there is kept"
        ) from cause
    finally:
        shutil.rmtree(new, ignore_errors=True)
    return old


def _records_of(backup: Path) -> Path:
    return backup / (RECORDS if (backup / RECORDS).exists() else EXPORT)


def _as_a_new_shop(backup: Path, folder: Path) -> Shop:
    """Return a new shop in `folder` with everything of the backup but its files, brought to this schema."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    records = _records_of(backup)
    if records.name == RECORDS:
        shutil.copy2(records, folder / RECORDS)
    made = Shop(folder / RECORDS, folder)
    with made.writing() as connection:
        if records.name == EXPORT:
            with reading_zip(records) as zipped:
                load(connection, zipped)
        forget_devices(connection)
    return made


def _replace_rows(shop: Shop, export: Path, counts: dict[str, int]) -> None:
    tables = [one for one in METADATA.sorted_tables if one.name != ANSWERED.name]
    every = ", ".join(f'"{one.name}"' for one in tables)
    with reading_zip(export) as zipped, shop.writing() as connection:
        # Writers wait, readers go on. Not TRUNCATE: a transaction begun before would see its tables empty.
        connection.execute(text(f"LOCK TABLE {every} IN EXCLUSIVE MODE"))
        for one in reversed(tables):
            connection.execute(delete(one))
        done = load(connection, zipped)
        if done.kept or done.added_count != sum(counts.values()):
            raise ShopDamagedError(
                "the backup contradicts itself", "the records stay as they were", "use another"
            )


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
