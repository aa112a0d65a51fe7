"""Full disk, read-only folder, lock, corrupt page, half-written blob, lost server: one sentence, nothing lost."""

import multiprocessing
import os
import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text

from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.examine import examine, mend
from breakangle.storage.connection import opening
from breakangle.storage.files.blobs import blob_path, get_blob, put_blob, unfinished_files
from breakangle.storage.records.entries import entries_of, hold_visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import ShopDamagedError, ShopOutOfReachError
from shop_fixtures.people import ADA, GAP, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def filled(tmp_path):
    """Return a SQLite shop with one visit, and that visit's name."""
    shop = shop_at(tmp_path / "shop")
    yield shop, bring_in(shop, example_text().encode(), "a file", ADA).visit.id
    shop.close()


@pytest.fixture
def either(shop):
    """Return the same on either engine."""
    return shop, bring_in(shop, example_text().encode(), "a file", ADA).visit.id


def one_sentence(error: BaseException) -> bool:
    said = str(error)
    return "\n" not in said and "Traceback" not in said and said.endswith(".")


def test_a_full_disk_stores_nothing_and_is_over_when_there_is_room(filled):
    shop, visit = filled
    before = len(entries_of(shop, visit))
    with shop.reading() as connection:
        pages = connection.execute(text("PRAGMA page_count")).scalar_one()
        most = connection.execute(text(f"PRAGMA max_page_count={pages}")).scalar_one()
        assert most == pages
    taken = []
    with pytest.raises(ShopOutOfReachError, match=r"the disk is full.*nothing was stored") as full:
        for count in range(2000):
            taken += [take_reading(shop, visit, GAP, later(minutes=count)).id]
    assert one_sentence(full.value)
    with shop.reading() as connection:
        connection.execute(text("PRAGMA max_page_count=1000000"))
    assert len(entries_of(shop, visit)) == before + len(taken)
    assert take_reading(shop, visit, GAP, ADA).id


def test_a_locked_file_is_said_and_waited_out(filled, monkeypatch):
    shop, visit = filled
    monkeypatch.setattr(opening, "PRAGMAS", ("PRAGMA busy_timeout=100", *opening.PRAGMAS[1:]))
    shop.close()
    with closing(sqlite3.connect(shop.place, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(ShopOutOfReachError, match="another program holds the records") as busy:
            take_reading(shop, visit, GAP, ADA)
        assert one_sentence(busy.value)
        assert entries_of(shop, visit)  # reading goes on meanwhile
        other.execute("ROLLBACK")
    assert take_reading(shop, visit, GAP, ADA).id


def test_a_sheet_that_another_program_holds_on_a_server_is_said_and_waited_out(
    server, migrated, tmp_path, monkeypatch
):
    monkeypatch.setattr(opening, "WAIT_MS", 200)
    shop, other = (shop_at(tmp_path, url) for url in [server.new_database(migrated)] * 2)
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit.id
    with other.writing() as connection:
        hold_visit(connection, visit)
        with pytest.raises(ShopOutOfReachError, match="another program holds the records") as busy:
            take_reading(shop, visit, GAP, ADA)
        assert one_sentence(busy.value)
        assert entries_of(shop, visit)  # reading goes on meanwhile
    assert take_reading(shop, visit, GAP, ADA).id
    for one in (shop, other):
        one.close()


def _as_an_ordinary_user(folder: Path, visit: str, answers) -> None:
    """Try to take a reading, in a process of its own: to the superuser no folder is read-only."""
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)
    try:
        take_reading(shop_at(folder), visit, GAP, ADA)
        answers.put("stored")
    except ShopOutOfReachError as error:
        answers.put(str(error))


def test_a_read_only_folder_is_said_and_over_when_it_is_not():
    # Not under the tests' own folder, which an ordinary user may not enter.
    folder = Path(tempfile.mkdtemp())
    shop = shop_at(folder)
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit.id
    before = len(entries_of(shop, visit))
    shop.close()
    (folder / "shop.db").chmod(0o444)
    folder.chmod(0o555)
    fork = multiprocessing.get_context("fork")
    answers = fork.Queue()
    child = fork.Process(target=_as_an_ordinary_user, args=(folder, visit, answers))
    child.start()
    said = answers.get(timeout=20)
    child.join()
    assert "the shop's folder is read-only" in said or "cannot be opened" in said
    assert "nothing was stored" in said
    folder.chmod(0o755)
    (folder / "shop.db").chmod(0o644)
    assert len(entries_of(shop, visit)) == before
    assert take_reading(shop, visit, GAP, ADA).id
    shop.close()
    shutil.rmtree(folder)


def test_a_folder_that_cannot_be_made_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(ShopOutOfReachError, match=r"cannot be made: not a directory.*BREAKANGLE_DATA"):
        shop_at(tmp_path / "file" / "shop")


def damage(path: Path, page: int, size: int = 4096) -> None:
    """Write noise over one page of the file, as a failing disk would."""
    with path.open("r+b") as file:
        file.seek(page * size)
        file.write(b"\xa5" * size)


def test_a_corrupt_page_is_found_named_and_nothing_is_made_of_it(filled):
    shop, visit = filled
    with shop.reading() as connection:
        root = connection.execute(
            text("SELECT rootpage FROM sqlite_master WHERE name = 'entry'")
        ).scalar_one()
    shop.close()
    with closing(sqlite3.connect(shop.place)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    whole = Path(shop.place).read_bytes()
    damage(Path(shop.place), root - 1)
    with pytest.raises(ShopDamagedError, match=r"the shop's records are damaged.*restore") as found:
        entries_of(shop, visit)
    assert one_sentence(found.value)
    bad = [one for one in examine(shop, ADA.at) if not one.well]
    assert any("damaged" in one.what and "restore" in one.mend for one in bad)
    shop.close()
    Path(shop.place).write_bytes(whole)
    assert entries_of(shop, visit)


def test_what_is_no_database_is_said(tmp_path):
    (tmp_path / "shop.db").write_bytes(b"a shopping list, not a database" * 200)
    with pytest.raises(ShopDamagedError, match="breakangle doctor"):
        Shop(tmp_path / "shop.db", tmp_path)


def test_a_table_that_is_gone_is_damage_and_not_a_server_out_of_reach(either):
    shop, visit = either
    with shop.reading() as connection:
        connection.execute(text("ALTER TABLE entry RENAME TO lost"))
        connection.commit()
    with pytest.raises(ShopDamagedError, match=r"the shop's records are damaged.*restore") as found:
        entries_of(shop, visit)
    assert one_sentence(found.value)


def test_a_half_written_blob_is_never_taken_for_a_whole_one(either, monkeypatch):
    shop, _ = either
    real = os.fsync

    def torn(number: int) -> None:
        os.ftruncate(number, 3)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", torn)
    with pytest.raises(ShopOutOfReachError, match=r"no space left on device.*make room"):
        put_blob(shop.folder, b"a recording", "recording")
    monkeypatch.setattr(os, "fsync", real)
    assert list((shop.folder / "blobs").rglob("*.*")) == []
    name = put_blob(shop.folder, b"a recording", "recording")
    assert get_blob(shop.folder, name) == b"a recording"
    (blob_path(shop.folder, name).parent / ".unfinished-left").write_bytes(b"a re")
    assert len(unfinished_files(shop.folder)) == 1
    assert any("half written" in one.what for one in examine(shop, ADA.at))
    assert mend(shop) == 2  # the left-over, and the recording that no visit has
    assert unfinished_files(shop.folder) == []


def test_a_changed_blob_is_refused_when_it_is_read(either):
    shop, _ = either
    name = put_blob(shop.folder, b"a recording", "recording")
    blob_path(shop.folder, name).write_bytes(b"a recordinG")
    with pytest.raises(ShopDamagedError, match=r"is damaged.*restore it from a backup"):
        get_blob(shop.folder, name)
    blob_path(shop.folder, name).unlink()
    with pytest.raises(ShopDamagedError, match="is missing"):
        get_blob(shop.folder, name)


def test_a_lost_server_is_said_and_forgotten_when_it_is_back(server, migrated, tmp_path):
    shop = shop_at(tmp_path, server.new_database(migrated))
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit.id
    taken = take_reading(shop, visit, GAP, ADA)
    server.stop("immediate")
    try:
        with pytest.raises(ShopOutOfReachError, match="database server cannot be reached") as lost:
            take_reading(shop, visit, GAP, ADA)
        assert one_sentence(lost.value)
    finally:
        server.start()
    assert taken in entries_of(shop, visit)
    again = take_reading(shop, visit, GAP, ADA)
    assert again.place == taken.place + 1
    shop.close()


def test_a_connection_cut_in_the_middle_of_writing_stores_nothing(server, migrated, tmp_path):
    shop = shop_at(tmp_path, server.new_database(migrated))
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit.id
    before = entries_of(shop, visit)
    from breakangle.storage.records.entries import take_entry

    with pytest.raises(ShopOutOfReachError), shop.writing() as connection:
        take_entry(connection, visit, "reading", "{}", ADA)
        server.statement(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE state = 'idle in transaction'"
        )
        connection.execute(text("SELECT 1"))
    assert entries_of(shop, visit) == before
    shop.close()
