"""Whole shops copied and brought in by a process of its own: pages and what is stored do not wait behind that.

An export writes every row as text, an import reads and checks every row: tens of seconds of Python for a large shop,
and Python works on one thing at a time.
A backup of records on a server is one; of records in a file the database itself makes the copy, beside all else.
"""

import os
import signal
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr
from breakangle.services.records.import_checks import RowsRead
from breakangle.services.workers.process import in_process
from breakangle.services.workers.queue import EXPORTS, Queue
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.copies import Backup
from breakangle.storage.backup.keeper import backed_up
from breakangle.storage.connection.lease import Holder, Lease, holder_of
from breakangle.storage.connection.moment import moment_held
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.exchange.merging import Merged
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import ShopOutOfReachError

YIELDING = 10  # whatever anybody waits for comes first


def backed_up_apart(shop: Shop, now: datetime) -> Backup:
    """Make a backup, let go of old ones, and return it; apart where records lie on a server and this serves pages.

    Raises:
        ShopOutOfReachError: the disk is full, the folder cannot be written, or the records cannot be reached.
        ShopDamagedError: the records are damaged.
    """
    if Queue.apart and not shop.is_file:
        with suppress(ChooseAnotherFileError):  # the process broke off: it is made here
            given = shop.folder, str(shop.place), now
            return in_process(_backed_up, given, EXPORTS.most_mb, EXPORTS.longest_s)
    return backed_up(shop, now)


def exported_apart(shop: Shop, path: Path) -> None:
    """Write the whole shop to a zip, in its turn and apart where this serves pages.

    Raises:
        BusyError: too many wait already.
        ShopOutOfReachError: it cannot be written, the records cannot be read, or it broke off.
        ShopDamagedError: a recording or photograph is missing or damaged.
    """
    with EXPORTS.turn():
        if not Queue.apart:
            export_shop(shop, path)
            return
        given = shop.folder, None if shop.is_file else str(shop.place), path
        try:
            in_process(_exported, given, EXPORTS.most_mb, EXPORTS.longest_s)
        except ChooseAnotherFileError as cause:  # worded for a file that was brought
            raise ShopOutOfReachError(
                tr("the export broke off"), "", tr("try again; if it breaks off again, free memory first")
            ) from cause


def imported_apart(shop: Shop, path: Path, source: str) -> Merged:
    """Merge a whole-shop zip into the shop in its turn, apart where this serves pages, and return what that did.

    All of it is stored, or nothing; where the process ends midway, files that it had unpacked are of no visit, and go
    with those. `source` is what the file is called in a complaint.

    Raises:
        BusyError: too many wait already.
        ChooseAnotherFileError: no export, a damaged one, or one that took too much memory or time.
        ShopMovedError: another server has taken the shop over.
        ShopOutOfReachError: the records cannot be written.
    """
    with EXPORTS.turn():
        if not Queue.apart:
            return import_shop(shop, path, RowsRead(source))
        for check in shop.may_write:
            check()
        moment = moment_held()
        if moment is not None:
            moment.end()  # what is asked next sees what came in
        given = shop.folder, None if shop.is_file else str(shop.place), path, source, holder_of(shop.folder)
        return in_process(_imported, given, EXPORTS.most_mb, EXPORTS.longest_s, gentle=False)


def _backed_up(folder: Path, url: str, now: datetime) -> Backup:
    _give_way()
    shop = shop_at(folder, url)
    try:
        return backed_up(shop, now)
    finally:
        shop.close()


def _exported(folder: Path, url: str | None, path: Path) -> None:
    _give_way()
    shop = shop_at(folder, url)
    try:
        export_shop(shop, path)
    finally:
        shop.close()


def _imported(folder: Path, url: str | None, path: Path, source: str, holder: Holder | None) -> Merged:
    """Bring it in; as fast as the server itself, as others wait for what this holds."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    shop = shop_at(folder, url)
    if holder is not None:
        shop.may_write.append(Lease(folder, holder, None).check)
    try:
        return import_shop(shop, path, RowsRead(source))
    finally:
        shop.close()


def _give_way() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server hears it, and waits for this
    with suppress(OSError, AttributeError):
        os.nice(YIELDING)
