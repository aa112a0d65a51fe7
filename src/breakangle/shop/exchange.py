"""The whole shop in one zip (JSON lines, blobs, a manifest with hashes), and a zip merged into a shop."""

import hashlib
import json
import os
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, insert, select, text, update

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.shop.blobs import blob_path, get_blob, write_whole
from breakangle.shop.entries import start_series
from breakangle.shop.errors import ShopOutOfReachError
from breakangle.shop.plain import from_plain, to_plain
from breakangle.shop.search import forget_words, keep_words
from breakangle.shop.store import TABLE_OF, Shop
from breakangle.shop.tables import CHANGE, COUNTER, EDITED, METADATA, VISIT

FORMAT, MANIFEST = "breakangle/shop/1", "manifest.json"
# In the order of their keys to each other: what is pointed at comes first.
ORDER = ("owner", "instrument", "visit", "gauge", "stock", "price", "line", "attachment", "setting",
         "entry", "change")  # fmt: skip
MOST_LINE_BYTES, CHUNK_ROWS = 8_000_000, 500
EPOCH = (1980, 1, 1, 0, 0, 0)  # so that the same shop makes the same bytes
Row = dict[str, Any]


@dataclass
class Merged:
    """What a merge did: rows added, rows brought up to date, and those that differ, where ours was kept."""

    added_count: int = 0
    updated_count: int = 0
    kept: list[str] = field(default_factory=list)
    renumbered: dict[int, int] = field(default_factory=dict)


def export_shop(shop: Shop, path: Path) -> dict[str, int]:
    """Write the whole shop to a zip, whole or not at all, and return how many rows of each table it holds.

    The zip of the same shop is the same to the byte, whichever engine holds it.

    Raises:
        ShopOutOfReachError: it cannot be written, or the records cannot be read.
        ShopDamagedError: a recording or photograph is missing or damaged.
    """
    counts: dict[str, int] = {}
    hashes: dict[str, str] = {}
    number, unfinished = -1, ""
    try:
        number, unfinished = tempfile.mkstemp(prefix=f".unfinished-{path.name}", dir=path.resolve().parent)
        with os.fdopen(number, "wb") as file, zipfile.ZipFile(file, "w") as out, shop.reading() as connection:
            if not shop.is_file:
                connection.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ"))
            for name in ORDER:
                counts[name], hashes[f"{name}.jsonl"] = _write_table(out, connection, name)
            for blob in sorted(set(connection.execute(select(EDITED["attachment"].c.hash)).scalars())):
                hashes[f"blobs/{blob}"] = blob
                out.writestr(_info(f"blobs/{blob}", zipfile.ZIP_STORED), get_blob(shop.folder, blob))
            manifest = {"format": FORMAT, "counts": counts, "sha256": hashes}
            out.writestr(_info(MANIFEST), json.dumps(manifest, indent=1, sort_keys=True))
        Path(unfinished).replace(path)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(f"{path} cannot be written: {reason}", "", "name another place") from cause
    finally:
        with suppress(OSError):
            Path(unfinished).unlink()
    return counts


def _info(name: str, how: int = zipfile.ZIP_DEFLATED) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, EPOCH)
    info.compress_type = how
    return info


def _write_table(out: zipfile.ZipFile, connection: Connection, name: str) -> tuple[int, str]:
    table, count, digest = METADATA.tables[name], 0, hashlib.sha256()
    rows = connection.execution_options(yield_per=CHUNK_ROWS).execute(select(table).order_by(table.c.id))
    with out.open(_info(f"{name}.jsonl"), "w", force_zip64=True) as file:
        for row in rows.mappings():
            line = json.dumps(to_plain(table, dict(row)), ensure_ascii=False, sort_keys=True).encode() + b"\n"
            digest.update(line)
            file.write(line)
            count += 1
    return count, digest.hexdigest()


def import_shop(shop: Shop, path: Path) -> Merged:
    """Merge a whole-shop zip into the shop, all or nothing, and return what that did.

    A row that is here already is not doubled. One that was edited later there, starting from what stands here,
    is brought up to date; one edited on both sides stays as it is here, and is listed.

    Raises:
        ChooseAnotherFileError: no such zip, a damaged one, or one of a later format.
        ShopOutOfReachError: the records cannot be written.
    """
    try:
        with zipfile.ZipFile(path) as zipped:
            told = _checked_manifest(zipped, path)
            for name in told["sha256"]:
                if name.startswith("blobs/") and not blob_path(shop.folder, name[6:]).exists():
                    write_whole(blob_path(shop.folder, name[6:]), zipped.read(name))
            with shop.writing() as connection:
                return _merge(connection, {name: list(_rows(zipped, name)) for name in ORDER})
    except (OSError, zipfile.BadZipFile, KeyError, ValueError, TypeError, EOFError) as cause:
        raise ChooseAnotherFileError(
            f"{path} is no whole-shop export, or is damaged", "", "name another"
        ) from cause


def _checked_manifest(zipped: zipfile.ZipFile, path: Path) -> dict[str, Any]:
    """Return the manifest after comparing every file with its hash."""
    told: dict[str, Any] = json.loads(zipped.read(MANIFEST))
    if told["format"] != FORMAT:
        given = f"{path} has the format {told['format']}"
        raise ChooseAnotherFileError(given, f"this program reads {FORMAT}", "update Breakangle")
    for name, wanted in told["sha256"].items():
        digest = hashlib.sha256()
        with zipped.open(name) as file:
            while part := file.read(1 << 20):
                digest.update(part)
        if digest.hexdigest() != wanted or (name.startswith("blobs/") and name[6:] != wanted):
            raise ChooseAnotherFileError(f"{name} in {path} is damaged", "", "name another export")
    return told


def _rows(zipped: zipfile.ZipFile, name: str) -> Iterator[Row]:
    with zipped.open(f"{name}.jsonl") as file:
        while line := file.readline(MOST_LINE_BYTES):
            yield from_plain(METADATA.tables[name], json.loads(line))


def _merge(connection: Connection, incoming: dict[str, list[Row]]) -> Merged:
    done = Merged()
    before = {
        (one["record_table"], one["record_id"], one["version"]): one["body"] for one in incoming["change"]
    }
    _renumber(connection, incoming["visit"], done)
    for name in ORDER:
        table = METADATA.tables[name]
        here = (
            {row["id"]: dict(row) for row in connection.execute(select(table)).mappings()}
            if incoming[name]
            else {}
        )
        new = [row for row in incoming[name] if row["id"] not in here]
        if name == "entry":
            new = _first_things_first(new)
        if name == "change":
            # The history of what was kept as it is here would get in the way of its own next change.
            kept = set(done.kept)
            new = [row for row in new if f"{row['record_table']} {row['record_id']}" not in kept]
        if name in ("entry", "change"):
            new = _unclashing(new, here, name, done)
        for start in range(0, len(new), CHUNK_ROWS):
            connection.execute(insert(table), new[start : start + CHUNK_ROWS])
        done.added_count += len(new)
        for row in new if name in EDITED else ():
            _searchable(connection, name, row)
        for row in incoming[name] if name in EDITED else ():
            if row["id"] in here and here[row["id"]] != row:
                _settle(connection, name, here[row["id"]], row, before, done)
    worked = {row["visit_id"] for row in incoming["entry"] if row["kind"] == "adjustment"}
    for visit in incoming["visit"]:
        if visit["id"] in worked:
            _searchable(connection, "visit", _standing_visit(connection, visit["id"]))
    return done


def _standing_visit(connection: Connection, key: str) -> Row:
    return dict(connection.execute(select(VISIT).where(VISIT.c.id == key)).mappings().one())


def _first_things_first(new: list[Row]) -> list[Row]:
    """Return entries so that each comes after the one it supersedes (their names only sort by the millisecond)."""
    coming = {row["id"]: row for row in new}
    ordered: dict[str, Row] = {}
    for one in new:
        chain: list[Row] = []
        row: Row | None = one
        while row is not None and row["id"] not in ordered and row not in chain:
            chain.append(row)
            row = coming.get(row["supersedes"])
        ordered |= {link["id"]: link for link in reversed(chain)}
    return list(ordered.values())


def _unclashing(new: list[Row], here: dict[str, Row], name: str, done: Merged) -> list[Row]:
    """Return the new rows without those whose place somebody here has taken since; they are listed."""
    key = ("supersedes",) if name == "entry" else ("record_table", "record_id", "version")
    first = ("visit_id", "place")
    taken = {tuple(row[one] for one in key) for row in here.values()}
    places = {
        tuple(row[one] for one in first) for row in here.values() if name == "entry" and not row["supersedes"]
    }
    fit: list[Row] = []
    dropped: set[str] = set()
    for row in new:
        clash = tuple(row[one] for one in key) in taken if name == "change" or row["supersedes"] else (
            tuple(row[one] for one in first) in places
        )  # fmt: skip
        if clash or (name == "entry" and row["supersedes"] in dropped):
            dropped.add(row["id"])
            done.kept += [f"entry {row['id']}"] if name == "entry" else []
        else:
            fit.append(row)
    return fit


def _settle(
    connection: Connection, name: str, ours: Row, theirs: Row, before: dict[Any, str], done: Merged
) -> None:
    """Bring a row up to date if theirs began from ours; else keep ours, and say so unless theirs is older."""
    table = EDITED[name]
    plain = json.dumps(to_plain(table, ours), ensure_ascii=False, sort_keys=True)
    if before.get((name, ours["id"], ours["version"])) == plain:
        connection.execute(update(table).where(table.c.id == ours["id"]).values(theirs))
        _searchable(connection, name, theirs)
        done.updated_count += 1
        return
    journal = select(CHANGE.c.body).where(
        CHANGE.c.record_table == name, CHANGE.c.record_id == ours["id"], CHANGE.c.version == theirs["version"]
    )
    older = json.dumps(to_plain(table, theirs), ensure_ascii=False, sort_keys=True)
    if connection.execute(journal).scalar() != older:
        done.kept.append(f"{name} {ours['id']}")


def _searchable(connection: Connection, name: str, row: Row) -> None:
    record = next(kind for kind, table in TABLE_OF.items() if table.name == name)(**row)
    if record.deleted_at is None:
        keep_words(connection, name, record)
    else:
        forget_words(connection, record.id)


def _renumber(connection: Connection, visits: list[Row], done: Merged) -> None:
    """Give visits new to this shop numbers that are free here, so that the series stays without gaps."""
    ours = {row.id: row.number for row in connection.execute(select(VISIT.c.id, VISIT.c.number))}
    taken, last = set(ours.values()), max(ours.values(), default=0)
    for row in sorted(visits, key=lambda one: int(one["number"])):
        number = int(row["number"])
        if row["id"] in ours:
            row["number"] = ours[row["id"]]
            continue
        if number in taken or number != last + 1:
            row["number"] = last + 1
            done.renumbered[number] = last + 1
        last = int(row["number"])
        taken.add(last)
    connection.execute(start_series(connection, "sheet"))
    connection.execute(update(COUNTER).where(COUNTER.c.name == "sheet").values(last=last))
