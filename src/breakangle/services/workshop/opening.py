"""Where the shop is, and opening it: the user's data folder, or what the environment names."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from breakangle.model.errors import BreakangleError
from breakangle.model.words.speech import tr
from breakangle.storage.schema.errors import ShopOutOfReachError

if TYPE_CHECKING:
    from breakangle.storage.records.store import Shop

FOLDER_NAME, URL_NAME = "BREAKANGLE_DATA", "BREAKANGLE_DATABASE_URL"
FILE_NAME = "shop.db"


@dataclass(frozen=True)
class Places:
    """Where the records, the blobs and the backups of a shop are; `records` hides a password."""

    records: str
    folder: Path
    blobs: Path
    backups: Path
    example: Path


def data_folder(environment: Mapping[str, str] | None = None) -> Path:
    """Return the folder all of the shop's files lie in: $BREAKANGLE_DATA, or the user's data folder."""
    given = (os.environ if environment is None else environment).get(FOLDER_NAME)
    if given:
        return Path(given).expanduser().absolute()
    from platformdirs import user_data_path

    return user_data_path("breakangle", appauthor=False)


def where(environment: Mapping[str, str] | None = None) -> Places:
    """Return where everything is, without opening or making any of it."""
    environment = os.environ if environment is None else environment
    folder = data_folder(environment)
    url = environment.get(URL_NAME)
    records = str(folder / FILE_NAME)
    if url:
        from breakangle.storage.connection.opening import shown_address

        records = shown_address(url)
    return Places(records, folder, folder / "blobs", folder / "backups", folder / "example")


def open_shop(environment: Mapping[str, str] | None = None) -> "Shop":
    """Return the shop, made new where there is none yet.

    Raises:
        ShopOutOfReachError: its folder cannot be made, or the records cannot be reached.
        NewerShopError: a newer program has written them.
        ShopDamagedError: they are damaged.
    """
    environment = os.environ if environment is None else environment
    folder = data_folder(environment)
    return shop_at(folder, environment.get(URL_NAME) or None)


def shop_at(folder: Path, url: str | None = None, instead: bool = False) -> "Shop":
    """Return the shop in `folder`; its records on the server at `url`, or in a file there.

    With `instead` a backup is about to be put in the place of whatever is there.

    Raises:
        ShopOutOfReachError: the folder cannot be made, or the records cannot be reached.
        NewerShopError: a newer program has written them.
        ShopDamagedError: they are damaged.
        ShopMissingError: there was a shop, and its records are gone, empty or another shop's.
    """
    from breakangle.storage.records.store import Shop

    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        given = tr("the folder {folder} cannot be made: {reason}", folder=folder, reason=reason)
        raise ShopOutOfReachError(
            given, "", tr("allow it, or name another in {folder_name}", folder_name=FOLDER_NAME)
        ) from cause
    return Shop(url if url is not None else folder / FILE_NAME, folder, instead)


def backed_up(shop: "Shop", now: datetime) -> str:
    """Make today's backup if it is due and there is anything to keep; return what stood in the way, or nothing.

    A backup that fails must not keep anybody from working. Keys of writes answered long ago are let go of too.
    """
    from breakangle.storage.backup.keeper import kept_in_time
    from breakangle.storage.records.answered import any_old_answer, forget_answers
    from breakangle.storage.records.records import Visit
    from breakangle.storage.records.store import any_record

    try:
        with shop.reading() as connection:
            old = any_old_answer(connection, now)
        if old:
            with shop.writing() as connection:
                forget_answers(connection, now)
        if any_record(shop, Visit):
            kept_in_time(shop, now)
    except BreakangleError as error:
        return tr("today's backup was not made: {error}", error=error)
    return ""
