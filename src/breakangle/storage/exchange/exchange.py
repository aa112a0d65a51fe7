"""The whole shop in one zip (JSON lines, blobs, a manifest with hashes), and a zip merged into a shop."""

import json
import os
import sqlite3
import tempfile
import zipfile
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any, Protocol

from sqlalchemy import Connection, select
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, ProgrammingError, StatementError

from breakangle.model.errors import BreakangleError, CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.exchange.export_zip import FORMAT, MANIFEST, ExportZip
from breakangle.storage.exchange.merging import Merged, merge
from breakangle.storage.files.blobs import blob_path, pour_blob, pour_whole
from breakangle.storage.records.closings import stored_hashes
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import NoSuchRecordError, ShopOutOfReachError
from breakangle.storage.schema.plain import to_plain
from breakangle.storage.schema.tables import METADATA

# In the order of their keys to each other: what is pointed at comes first.
ORDER = ("owner", "instrument", "visit", "gauge", "stock", "price", "line", "attachment", "setting", "procedure",
         "run", "used", "closing", "entry", "change")  # fmt: skip
CHUNK_ROWS = 500
WRONG_VALUES = (
    KeyError,
    ValueError,
    OverflowError,
    RecursionError,
    TypeError,
    AttributeError,
    sqlite3.InterfaceError,
    sqlite3.ProgrammingError,
)
EPOCH = (1980, 1, 1, 0, 0, 0)  # so that the same shop makes the same bytes


class RowCheck(Protocol):
    """What reads the rows of an import; each raises where this program could not read it back."""

    def row(self, table: str, row: dict[str, Any]) -> None:
        """Read one row."""

    def whole(self, connection: Connection) -> None:
        """Read what the rows have become."""


def export_shop(shop: Shop, path: Path, blobs: bool = True) -> dict[str, int]:
    """Write the whole shop to a zip, whole or not at all, and return how many rows of each table it holds.

    The zip of the same shop is the same to the byte, whichever engine holds it. Without `blobs`, records only.

    Raises:
        ShopOutOfReachError: it cannot be written, or the records cannot be read.
        ShopDamagedError: a recording or photograph is missing or damaged.
    """
    unfinished = ""
    try:
        number, unfinished = tempfile.mkstemp(prefix=f".unfinished-{path.name}", dir=path.resolve().parent)
        with os.fdopen(number, "wb") as file:
            with zipfile.ZipFile(file, "w") as out, shop.snapshot() as connection:
                counts = _written(out, connection, shop.folder if blobs else None)
            file.flush()
            os.fsync(file.fileno())
        Path(unfinished).replace(path)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            tr("{path} cannot be written: {reason}", path=path, reason=reason), "", tr("name another place")
        ) from cause
    finally:
        with suppress(OSError):
            Path(unfinished).unlink()
    return counts


def _written(out: zipfile.ZipFile, connection: Connection, folder: Path | None) -> dict[str, int]:
    counts: dict[str, int] = {}
    hashes: dict[str, str] = {}
    for name in ORDER:
        counts[name], hashes[f"{name}.jsonl"] = _write_table(out, connection, name)
    if folder is not None:
        for blob in stored_hashes(connection):
            hashes[f"blobs/{blob}"] = blob
            with out.open(_info(f"blobs/{blob}", zipfile.ZIP_STORED), "w", force_zip64=True) as file:
                pour_blob(folder, blob, file)
    manifest = {"format": FORMAT, "counts": counts, "sha256": hashes}
    out.writestr(_info(MANIFEST), json.dumps(manifest, indent=1, sort_keys=True))
    return counts


def _info(name: str, how: int = zipfile.ZIP_DEFLATED) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, EPOCH)
    info.compress_type = how
    return info


def _write_table(out: zipfile.ZipFile, connection: Connection, name: str) -> tuple[int, str]:
    table, count, digest = METADATA.tables[name], 0, sha256()
    rows = connection.execution_options(yield_per=CHUNK_ROWS).execute(select(table).order_by(table.c.id))
    with out.open(_info(f"{name}.jsonl"), "w", force_zip64=True) as file:
        for row in rows.mappings():
            line = json.dumps(to_plain(table, dict(row)), ensure_ascii=False, sort_keys=True).encode() + b"\n"
            digest.update(line)
            file.write(line)
            count += 1
    return count, digest.hexdigest()


def import_shop(shop: Shop, path: Path, check: RowCheck | None = None) -> Merged:
    """Merge a whole-shop zip into the shop, all or nothing, and return what that did.

    A row that is here already is not doubled. One that was edited later there, starting from what stands here,
    is brought up to date; one edited on both sides stays as it is here, and is listed. However large the zip, it
    is read a few rows at a time. `check` reads every row before anything is stored, and every visit before it is kept.

    Raises:
        ChooseAnotherFileError: no such zip, a damaged one, one of a later format, or one that unpacks beyond reason.
        ShopOutOfReachError: the records cannot be written.
    """
    poured: list[str] = []
    try:
        with reading_zip(path) as zipped:
            shop.still_here()
            if check is not None:  # before anybody who stores something has to wait for this
                _read_rows(zipped, check)
            _pour(shop, zipped, poured)
            with shop.writing() as connection:
                _pour(shop, zipped, poured)  # what a `doctor --mend` took for files of no visit meanwhile
                return load(connection, zipped, check)
    except BaseException:
        _take_back(shop, poured)
        raise


def _pour(shop: Shop, zipped: ExportZip, poured: list[str]) -> None:
    """Write every file of the zip that is not here, and note its hash among those `poured`."""
    for name in zipped.blobs:
        target = blob_path(shop.folder, name)
        if not target.exists():
            with zipped.open(f"blobs/{name}") as file:
                pour_whole(target, file)
            poured.append(name)


def _take_back(shop: Shop, poured: list[str]) -> None:
    """Remove files that an import wrote and that nothing names; somebody may have attached the same ones meanwhile.

    Where the records cannot be asked, the files stay, as files of no visit.
    """
    if not poured:
        return
    with suppress(BreakangleError), shop.writing() as connection:
        shop.still_here()
        wanted = set(stored_hashes(connection))
        for name in poured:
            if name not in wanted:
                with suppress(OSError):
                    blob_path(shop.folder, name).unlink()


def load(connection: Connection, zipped: ExportZip, check: RowCheck | None = None) -> Merged:
    """Merge the records of an opened zip within a transaction, and return what that did.

    Raises:
        ChooseAnotherFileError: its rows are not what the tables hold, or contradict each other.
    """
    try:
        done = merge(connection, zipped.rows, ORDER)
        if check is not None:
            check.whole(connection)
        return done
    except (IntegrityError, DataError, ProgrammingError, *WRONG_VALUES) as cause:
        raise zipped.refused() from cause
    except (NoSuchRecordError, CorrectInputError) as cause:
        raise zipped.refused() from cause
    except StatementError as cause:
        # A value of the wrong kind; what ails the database itself is told by the transaction.
        if isinstance(cause, DBAPIError) and "binding parameter" not in str(cause):
            raise
        raise zipped.refused() from cause


def _read_rows(zipped: ExportZip, check: RowCheck) -> None:
    """Read every row by itself; nothing that the zip holds is stored where one cannot be read.

    Raises:
        ChooseAnotherFileError: one could not be read back.
    """
    try:
        for table in ORDER:
            for row in zipped.rows(table):
                check.row(table, row)
    except WRONG_VALUES as cause:
        raise zipped.refused() from cause


def reading_zip(path: Path) -> ExportZip:
    """Return the zip, opened and compared with its hashes.

    Raises:
        ChooseAnotherFileError: no such zip, a damaged one, one of a later format, or one that unpacks beyond reason.
    """
    return ExportZip(path, ORDER)
