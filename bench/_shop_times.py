"""The example workshop many times over, copied row by row, for timing pages at the size of a busy shop."""

import sqlite3
from contextlib import closing
from pathlib import Path

PREFIX = 3  # signs of an id that tell the copies apart
COLUMNS_OF_IDS = ("id", "owner_id", "instrument_id", "visit_id", "gauge_id", "supersedes", "record_id")
SHARED = ("setting", "counter", "alembic_version", "found_words", "learned")


def multiply(records: Path, times: int) -> dict[str, int]:
    """Copy everything in the file of records until it is there `times` over; return the rows of each table."""
    with closing(sqlite3.connect(records)) as connection:
        tables = [
            row[0]
            for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            if not row[0].startswith(("sqlite_", "found_words")) and row[0] not in SHARED
        ]
        connection.execute("PRAGMA foreign_keys=OFF")
        last = connection.execute("SELECT max(number) FROM visit").fetchone()[0]
        for table in tables:
            _copied(connection, table, times, last)
        connection.execute("UPDATE counter SET last = last * ? WHERE name = 'sheet'", (times,))
        connection.commit()
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        return {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in tables}


def _copied(connection: sqlite3.Connection, table: str, times: int, last: int) -> None:
    names = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
    rows = connection.execute(f"SELECT * FROM {table}").fetchall()
    marks = ", ".join("?" * len(names))
    numbered = last if table == "visit" else 0
    if table == "found":
        numbered = connection.execute("SELECT max(number) FROM found").fetchone()[0]
    for copy in range(1, times):
        made = [
            tuple(_value(table, name, value, copy, numbered) for name, value in zip(names, row, strict=True))
            for row in rows
        ]
        connection.executemany(f"INSERT INTO {table} VALUES ({marks})", made)


def _value(table: str, name: str, value: object, copy: int, numbered: int) -> object:
    if name in COLUMNS_OF_IDS and isinstance(value, str) and len(value) == 20:
        return f"{copy:0{PREFIX}d}{value[PREFIX:]}"
    if name == "number" and table in ("visit", "found") and isinstance(value, int):
        return value + copy * numbered
    return value
