"""The rows of another shop merged into this one, a few at a time: nothing doubled, nothing silently overwritten."""

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from sqlalchemy import Connection, insert, select, update

from breakangle.model.words.speech import tr
from breakangle.storage.exchange.merging_closed import open_what_goes_beyond
from breakangle.storage.exchange.merging_entries import EntryMerge
from breakangle.storage.records.due import reckon_everything_again
from breakangle.storage.records.series import hold_series
from breakangle.storage.records.store import TABLE_OF
from breakangle.storage.schema.plain import from_plain, to_plain
from breakangle.storage.schema.tables import CHANGE, COUNTER, EDITED, METADATA, VISIT
from breakangle.storage.search.search import forget_words, keep_new_words, keep_visit_words, keep_words

CHUNK_ROWS = 500
SHEETS = "sheet"
Row = dict[str, Any]
Rows = Callable[[str], Iterator[Row]]


@dataclass
class Merged:
    """What a merge did: rows added, rows brought up to date, and those that differ, where ours was kept.

    `opened` are the closed sheets that something came to: they are open for an amendment.
    """

    added_count: int = 0
    updated_count: int = 0
    kept: list[str] = field(default_factory=list)
    renumbered: dict[int, int] = field(default_factory=dict)
    opened: list[int] = field(default_factory=list)


class TheirJournal:
    """The other shop's former contents, put down on the disk so that any of them is at hand."""

    def __init__(self, rows: Iterable[Row]) -> None:
        """Read the journal once. An empty name makes a database that is gone when it is closed."""
        self._kept = sqlite3.connect("")
        self._kept.execute("CREATE TABLE was (record_table, record_id, version, body, "
                           "PRIMARY KEY (record_table, record_id, version)) WITHOUT ROWID")  # fmt: skip
        put = "INSERT OR IGNORE INTO was VALUES (?, ?, ?, ?)"
        names = ("record_table", "record_id", "version", "body")
        self._kept.executemany(put, (tuple(row[name] for name in names) for row in rows))

    def close(self) -> None:
        """Let go of it."""
        self._kept.close()

    def content(self, table: str, key: str, version: int) -> Row | None:
        """Return what stood there in a record at that version; None where the journal does not say."""
        asked = "SELECT body FROM was WHERE record_table = ? AND record_id = ? AND version = ?"
        found = self._kept.execute(asked, (table, key, version)).fetchone()
        return None if found is None else from_plain(METADATA.tables[table], json.loads(found[0]))


def merge(connection: Connection, rows: Rows, order: Iterable[str]) -> Merged:
    """Merge what `rows` gives of each table in this order, and return what that did.

    Raises:
        ChooseAnotherFileError: an entry supersedes one that is in neither shop.
    """
    done = Merged()
    with closing(TheirJournal(rows(CHANGE.name))) as journal:
        here = set(connection.execute(select(VISIT.c.id)).scalars())
        numbers = _numbers(connection, rows(VISIT.name), done)
        entries = EntryMerge(connection)
        for name in order:
            for chunk in portions(rows(name)):
                if name == VISIT.name:
                    for row in chunk:
                        row["number"] = numbers[row["id"]]
                if name == "entry":
                    entries.take(chunk)
                elif name == CHANGE.name:
                    done.added_count += _journal_chunk(connection, chunk, set(done.kept))
                else:
                    _edited_chunk(connection, name, chunk, journal, done)
            if name == "entry":
                entries.finish()
                done.added_count += entries.added_count
                done.kept += [tr("entry {key}", key=key) for key in entries.dropped]
    for keys in portions(sorted(entries.worked)):
        keep_visit_words(connection, keys)
    done.opened = list(open_what_goes_beyond(connection, sorted(here & numbers.keys())))
    reckon_everything_again(connection)
    return done


def portions(found: Iterable[Any]) -> Iterator[list[Any]]:
    """Yield what comes in portions of at most 500."""
    steady = iter(found)
    while chunk := list(islice(steady, CHUNK_ROWS)):
        yield chunk


def _numbers(connection: Connection, visits: Iterable[Row], done: Merged) -> dict[str, int]:
    """Return each incoming visit's number: ours where it is here, else a free one, so that there are no gaps.

    Whoever else opens a visit meanwhile waits until this transaction ends.
    """
    hold_series(connection, SHEETS)
    ours = {row.id: int(row.number) for row in connection.execute(select(VISIT.c.id, VISIT.c.number))}
    last, given = max(ours.values(), default=0), dict[str, int]()
    for number, key in sorted((int(row["number"]), row["id"]) for row in visits):
        if key in ours:
            given[key] = ours[key]
            continue
        last += 1
        given[key] = last
        if number != last:
            done.renumbered[number] = last
    connection.execute(update(COUNTER).where(COUNTER.c.name == SHEETS).values(last=last))
    return given


def _edited_chunk(
    connection: Connection, name: str, chunk: list[Row], journal: TheirJournal, done: Merged
) -> None:
    table = METADATA.tables[name]
    named = table.c.id.in_([row["id"] for row in chunk])
    here = {row["id"]: dict(row) for row in connection.execute(select(table).where(named)).mappings()}
    new = [row for row in chunk if row["id"] not in here]
    if new:
        connection.execute(insert(table), new)
        done.added_count += len(new)
        keep_new_words(connection, name, [row for row in new if row.get("deleted_at") is None])
    for row in chunk:
        if row["id"] in here and here[row["id"]] != row:
            _settle(connection, name, here[row["id"]], row, journal, done)


def _settle(
    connection: Connection, name: str, ours: Row, theirs: Row, journal: TheirJournal, done: Merged
) -> None:
    """Bring a row up to date if theirs began from ours; else keep ours, and say so unless theirs is older."""
    table = EDITED[name]
    if journal.content(name, ours["id"], ours["version"]) == ours:
        connection.execute(update(table).where(table.c.id == ours["id"]).values(theirs))
        _searchable(connection, name, theirs)
        done.updated_count += 1
        return
    older = select(CHANGE.c.body).where(
        CHANGE.c.record_table == name, CHANGE.c.record_id == ours["id"], CHANGE.c.version == theirs["version"]
    )
    was = connection.execute(older).scalar()
    if was is None or from_plain(table, json.loads(was)) != from_plain(table, to_plain(table, theirs)):
        done.kept.append(f"{name} {ours['id']}")


def _searchable(connection: Connection, name: str, row: Row) -> None:
    record = next(kind for kind, table in TABLE_OF.items() if table.name == name)(**row)
    if record.deleted_at is None:
        keep_words(connection, name, record)
    else:
        forget_words(connection, record.id)


def _journal_chunk(connection: Connection, chunk: list[Row], kept: set[str]) -> int:
    """Add what is new of their journal and return how many; the history of what was kept as it is here is not.

    It would get in the way of its own next change.
    """
    theirs = [row for row in chunk if f"{row['record_table']} {row['record_id']}" not in kept]
    named = CHANGE.c.record_id.in_(sorted({row["record_id"] for row in theirs}))
    said = select(CHANGE.c.id, CHANGE.c.record_table, CHANGE.c.record_id, CHANGE.c.version).where(named)
    here = list(connection.execute(said))
    keys, versions = {row[0] for row in here}, {tuple(row[1:]) for row in here}
    new = [
        row
        for row in theirs
        if row["id"] not in keys and (row["record_table"], row["record_id"], row["version"]) not in versions
    ]
    if new:
        connection.execute(insert(CHANGE), new)
    return len(new)
