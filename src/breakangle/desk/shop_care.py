"""Looking after the shop from a screen: backups made, listed and put back; a whole shop taken along or brought in."""

import shutil
import tempfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from breakangle.desk.shop_open import FOLDER_NAME, URL_NAME
from breakangle.desk.shop_upkeep import restore
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.shop.backup import BACKUPS, backups, make_backup, rotate
from breakangle.shop.examine import Finding, examine
from breakangle.shop.exchange import export_shop, import_shop
from breakangle.shop.merging import Merged
from breakangle.shop.store import Shop


@dataclass(frozen=True)
class Kept:
    """A backup in the shop's own folder: its name, and when it was made."""

    name: str
    made_at: datetime


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


def health(shop: Shop, now: datetime) -> tuple[Finding, ...]:
    """Return a finding for everything that can be wrong with the shop; nothing is changed."""
    return examine(shop, now)


def exported(shop: Shop) -> Path:
    """Return a new file that holds the whole shop; whoever takes it along removes it.

    Raises:
        ShopOutOfReachError: no room to write it.
    """
    path = Path(tempfile.mkdtemp(prefix="breakangle-")) / "shop.zip"
    export_shop(shop, path)
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
