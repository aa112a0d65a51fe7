"""Looking after the shop: backups and restoring, the doctor, the whole shop taken along or brought in."""

import os
import shutil
import tempfile
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from breakangle.model.errors import BreakangleError, ChooseAnotherFileError
from breakangle.model.words.speech import tr
from breakangle.physics.contact import kernel
from breakangle.services.records.copies_apart import backed_up_apart, exported_apart, imported_apart
from breakangle.services.records.import_checks import RowsRead
from breakangle.services.workshop.opening import FOLDER_NAME, URL_NAME, shop_at, where
from breakangle.storage.backup.copies import Backup, make_backup, verified
from breakangle.storage.backup.examine import Finding, examine, mend
from breakangle.storage.backup.restoring import restore_backup, restore_on_server
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.exchange.merging import Merged
from breakangle.storage.files.backup_listing import BACKUPS, Listed, backups
from breakangle.storage.records.store import Shop


def back_up(shop: Shop, now: datetime, folder: str | None = None) -> Backup:
    """Make a verified backup, in another folder where one is named, and return it.

    Raises:
        ShopOutOfReachError: the folder cannot be written, or the records cannot be reached.
        ShopDamagedError: something of the shop is damaged: no backup was made.
    """
    return make_backup(shop, now, Path(folder) if folder else None)


def backup_names(environment: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """Return the names of the backups in the shop's own folder, newest first; the shop need not be whole for it."""
    return tuple(backup.path.name for backup in backups(where(environment).backups))


def restore(named: str, now: datetime, environment: Mapping[str, str] | None = None) -> Path:
    """Put a backup, by its name in the list or its folder, in the place of the shop; return where the old one is.

    Raises:
        ChooseAnotherFileError: it is no backup.
        ShopDamagedError: it is damaged; the shop stays as it was.
        ShopOutOfReachError: the shop cannot be written; it stays as it was.
    """
    environment = os.environ if environment is None else environment
    places = where(environment)
    backup = places.backups / named if (places.backups / named).is_dir() else Path(named)
    if not environment.get(URL_NAME):
        return restore_backup(places.folder, backup, now)
    shop = shop_at(places.folder, environment[URL_NAME], instead=True)
    try:
        return restore_on_server(shop, backup, now)
    finally:
        shop.close()


def kept_backups(folder: Path) -> tuple[Listed, ...]:
    """Return the backups of the shop in `folder`, newest first; the shop need not be whole, or be there, for it."""
    return tuple(backups(folder / BACKUPS))


def why_not_good(backup: Path) -> str:
    """Return what is wrong with a backup after opening, checking and counting it; nothing where it is good."""
    try:
        verified(backup)
    except BreakangleError as error:
        return str(error).rstrip(".")
    return ""


def backup_now(shop: Shop, now: datetime) -> Backup:
    """Make a backup, verified, let go of old ones, and return it.

    Raises:
        ShopOutOfReachError: the folder cannot be written.
    """
    return backed_up_apart(shop, now)


def restore_named(folder: Path, name: str, now: datetime, database_url: str | None = None) -> Path:
    """Put the backup of that name in the place of the shop in `folder`, or on a server; return where the old one lies.

    Raises:
        ChooseAnotherFileError: there is no backup of that name.
        ShopDamagedError: it is damaged; the shop stays as it was.
    """
    there = {one.name for one in (folder / BACKUPS).glob("*") if one.is_dir()}
    if name not in there:
        raise ChooseAnotherFileError(
            tr('there is no backup "{name}"', name=name), tr("one of the list"), tr("choose one")
        )
    environment = {FOLDER_NAME: str(folder)} | ({URL_NAME: database_url} if database_url else {})
    return restore(name, now, environment)


def examined(shop: Shop, now: datetime) -> tuple[Finding, ...]:
    """Return a finding for everything that can be wrong with the shop, or slow; nothing is changed."""
    return (*examine(shop, now), _contact_form())


def _contact_form() -> Finding:
    """Look at which form of the contact steps runs: both give the same, and numpy takes fifteen times as long."""
    if kernel.library() is not None:
        return Finding(
            True, tr("buzz is worked out by compiled code, {lanes} numbers at a time", lanes=kernel.lanes())
        )
    given = tr("buzz is worked out without compiled code, which is slow: a sheet takes seconds")
    return Finding(
        True,
        tr("{given}; installed anew from the package index or with a C compiler it is fast", given=given),
    )


def mended(shop: Shop) -> int:
    """Remove half-written files and files of no visit, and return how many."""
    return mend(shop)


def take_out(shop: Shop, path: str) -> int:
    """Write the whole shop to a zip and return how many records it holds.

    Raises:
        ShopOutOfReachError: it cannot be written.
        ShopDamagedError: a recording or photograph is missing or damaged.
    """
    return sum(export_shop(shop, Path(path)).values())


def merge_in(shop: Shop, path: str) -> Merged:
    """Merge a whole-shop zip into the shop, all or nothing, and return what that did.

    Raises:
        ChooseAnotherFileError: no such zip, or a damaged one.
        ShopOutOfReachError: the records cannot be written.
    """
    return import_shop(shop, Path(path), RowsRead(Path(path).name))


def exported(shop: Shop) -> Path:
    """Return a new file that holds the whole shop; whoever takes it along removes it.

    Raises:
        BusyError: too many are exported already.
        ChooseAnotherFileError: it took too much memory or time.
        ShopOutOfReachError: no room to write it.
    """
    path = Path(tempfile.mkdtemp(prefix="breakangle-")) / "shop.zip"
    try:
        exported_apart(shop, path)
    except BaseException:
        forget_export(path)
        raise
    return path


def forget_export(path: Path) -> None:
    """Remove what `exported` wrote."""
    shutil.rmtree(path.parent, ignore_errors=True)


def bring_in_export(shop: Shop, content: BinaryIO) -> Merged:
    """Merge a whole shop's export into this one, without doubles, and return what it brought.

    Raises:
        BusyError: too many wait already.
        ChooseAnotherFileError: it is no export, is damaged, or took too much memory or time; nothing was changed.
        ShopOutOfReachError: the records cannot be written.
    """
    with tempfile.TemporaryDirectory(prefix="breakangle-") as folder:
        path = Path(folder) / "shop.zip"
        with path.open("wb") as file:
            shutil.copyfileobj(content, file)
        return imported_apart(shop, path, tr("this file"))
