"""Looking after the shop: backups and restoring, the doctor, the whole shop taken along or brought in."""

import os
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from breakangle.desk.shop_open import FOLDER_NAME, URL_NAME, open_shop, where
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.shop.backup import BACKUPS, Backup, backups, make_backup, rotate
from breakangle.shop.examine import Finding, examine, mend
from breakangle.shop.exchange import export_shop, import_shop
from breakangle.shop.merging import Merged
from breakangle.shop.restoring import restore_backup, restore_on_server
from breakangle.shop.store import Shop


@dataclass(frozen=True)
class Kept:
    """A backup in the shop's own folder: its name, and when it was made."""

    name: str
    made_at: datetime


def back_up(shop: Shop, now: datetime, folder: str | None = None) -> Backup:
    """Make a verified backup, in another folder where one is named, and return it.

    Raises:
        ShopOutOfReachError: the folder cannot be written, or the records cannot be reached.
        ShopDamagedError: something of the shop is damaged: no backup was made.
    """
    return make_backup(shop, now, Path(folder) if folder else None)


def backup_names(environment: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """Return the names of the backups in the shop's own folder, newest first; the shop need not be whole for it."""
    found = where(environment).backups.glob("*Z")
    return tuple(sorted((one.name for one in found if one.is_dir()), reverse=True))


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
    shop = open_shop(environment)
    try:
        return restore_on_server(shop, backup, now)
    finally:
        shop.close()


def kept_backups(shop: Shop) -> tuple[Kept, ...]:
    """Return the backups that there are, newest first."""
    return tuple(Kept(path.name, at) for at, path in backups(shop))


def backup_now(shop: Shop, now: datetime) -> Kept:
    """Make a backup, verified, let go of old ones, and return it.

    Raises:
        ShopOutOfReachError: the folder cannot be written.
    """
    made = make_backup(shop, now)
    rotate(shop)
    return Kept(made.path.name, made.made_at)


def restore_named(folder: Path, name: str, now: datetime, database_url: str | None = None) -> Path:
    """Put the backup of that name in the place of the shop in `folder`, or on a server; return where the old one lies.

    Raises:
        ChooseAnotherFileError: there is no backup of that name.
        ShopDamagedError: it is damaged; the shop stays as it was.
    """
    there = {one.name for one in (folder / BACKUPS).glob("*") if one.is_dir()}
    if name not in there:
        raise ChooseAnotherFileError(f'there is no backup "{name}"', "one of the list", "choose one")
    environment = {FOLDER_NAME: str(folder)} | ({URL_NAME: database_url} if database_url else {})
    return restore(name, now, environment)


def examined(shop: Shop, now: datetime) -> tuple[Finding, ...]:
    """Return a finding for everything that can be wrong with the shop; nothing is changed."""
    return examine(shop, now)


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
    return import_shop(shop, Path(path))


def exported(shop: Shop) -> Path:
    """Return a new file that holds the whole shop; whoever takes it along removes it.

    Raises:
        ShopOutOfReachError: no room to write it.
    """
    path = Path(tempfile.mkdtemp(prefix="breakangle-")) / "shop.zip"
    try:
        export_shop(shop, path)
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
        ChooseAnotherFileError: it is no export.
        ShopDamagedError: it is damaged; nothing was changed.
    """
    with tempfile.TemporaryDirectory(prefix="breakangle-") as folder:
        path = Path(folder) / "shop.zip"
        with path.open("wb") as file:
            shutil.copyfileobj(content, file)
        return import_shop(shop, path)
