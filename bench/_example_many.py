"""The example workshop many times over in one shop: every owner, instrument, visit and entry copied, rows by rows."""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import ForeignKey, Table, func, insert, select, text

from breakangle.services.example_workshop.workshop import load_example
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.files.blobs import BLOBS
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.tables import ENTRY, METADATA, VISIT

# What a shop has once, however many instruments come: its shelf, its gauges, its prices, who it is.
ONCE = ("gauge", "stock", "price", "setting", "counter", "device", "pairing", "answered", "identity")
REFERS = {("change", "record_id"), ("found", "record_id")}  # what names a record without a foreign key
AT_ONCE = 5000


def many_examples(folder: Path, times: int, url: str | None = None) -> int:
    """Fill a new shop with the example workshop so many times over, and return how many entries it has."""
    example = shop_at(load_example(folder, datetime.now(UTC)))
    shop = shop_at(folder / "shop", url)
    shutil.copytree(example.folder / BLOBS, shop.folder / BLOBS, dirs_exist_ok=True)
    try:
        for table in METADATA.sorted_tables:
            _copy(example, shop, table, times)
        with shop.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.execute(text("ANALYZE"))
            return int(connection.execute(select(func.count()).select_from(ENTRY)).scalar_one())
    finally:
        example.close()
        shop.close()


def _copy(example: Shop, shop: Shop, table: Table, times: int) -> None:
    with example.reading() as connection:
        rows = [dict(row) for row in connection.execute(select(table)).mappings()]
        last = int(connection.execute(select(func.max(VISIT.c.number))).scalar_one())
    if table.name == "identity" or not rows:
        return
    if table.name == "counter":
        rows = [row | {"last": row["last"] * (times if row["name"] == "sheet" else 1)} for row in rows]
    copies = range(1 if table.name in ONCE else times)
    with shop.writing() as connection:
        names = [column.name for column in table.columns if _marked(table, column)]
        made = (_copied(table, row, names, copy, last) for copy in copies for row in rows)
        if table.name == "counter":
            connection.execute(table.delete())
        for chunk in _chunks(made):
            connection.execute(insert(table), chunk)


def _copied(table: Table, row: dict[str, Any], names: list[str], copy: int, last: int) -> dict[str, Any]:
    made = dict(row)
    if copy:
        made |= {name: f"{row[name]}{copy:03d}" for name in names if row[name] is not None}
    if table is VISIT:
        made["number"] = row["number"] + copy * last
    if table.name == "found":
        del made["number"]  # the shop gives its own
    return made


def _marked(table: Table, column: Any) -> bool:
    """Return whether a column names something that is copied with it."""
    if table.name in ONCE:
        return False
    if (table.name, column.name) in REFERS or (column.primary_key and column.name == "id"):
        return True
    keys: set[ForeignKey] = column.foreign_keys
    return any(key.column.table.name not in ONCE for key in keys)


def _chunks(rows: Iterator[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    chunk: list[dict[str, Any]] = []
    for row in rows:
        chunk.append(row)
        if len(chunk) == AT_ONCE:
            yield chunk
            chunk = []
    if chunk:
        yield chunk
