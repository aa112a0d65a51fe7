"""Backups that nobody has to think of: due by work, running time and another day, whatever the clock says."""

import multiprocessing
import os
import shutil
import signal
import sqlite3
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest

from breakangle.services.overview.today import today
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.visits import open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.copies import make_backup, verified
from breakangle.storage.backup.examine import examine
from breakangle.storage.backup.keeper import MOST_CHANGES, MOST_RUNNING_S, Keeper, due, kept_in_time, standing
from breakangle.storage.backup.restoring import restore_backup, restore_on_server
from breakangle.storage.backup.trial import tried
from breakangle.storage.connection.opening import engine_for, migrate, upgrade
from breakangle.storage.files.backup_listing import BACKUPS, backups
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.schema.stamp import Stamp
from shop_fixtures.filled import fill
from shop_fixtures.people import ADA, GAP, START, later

pytest_plugins = ["shop_fixtures.shops"]
KILLS = 5  # each takes seconds, so no more here


@pytest.fixture
def filled(shop):
    fill(shop)
    return shop


def list_of(shop):
    return backups(shop.folder / BACKUPS)


def work(shop, count: int = 1) -> None:
    visit = shop.every(Visit)[0]
    for _ in range(count):
        take_reading(shop, visit.id, GAP, ADA)


def test_ten_days_of_work_in_the_browser_alone_leave_ten_backups(filled):
    """The server runs through; nobody types a command; the clock moves a day at a time."""
    now = [START]
    keeper = Keeper(lambda: filled, lambda: now[0])
    counts = []
    for day in range(10):
        now[0] = START + timedelta(days=day)
        work(filled, 3)
        made = keeper.look()
        assert made is not None
        counts.append(made.counts["entry"])
        assert keeper.look() is None  # the same day, nothing new
    listed = list_of(filled)
    assert [backup.sequence for backup in listed] == list(range(10, 0, -1))
    assert [verified(backup.path).counts["entry"] for backup in reversed(listed)] == counts
    assert counts == [counts[0] + 3 * day for day in range(10)]


@pytest.mark.parametrize("years", [(1970, 2099, 2031), (2099, 1970, 2026), (2040, 2026, 2027)])
def test_no_clock_keeps_a_backup_from_being_made_or_hides_one(filled, years):
    keeper, now = Keeper(lambda: filled, lambda: now[0]), [START]
    for year in years:
        now[0] = datetime(year, 6, 1, 12, tzinfo=UTC)
        work(filled)
        assert keeper.look() is not None
    listed = list_of(filled)
    assert [backup.made_at.year for backup in listed] == list(reversed(years))
    assert listed[0].counts["entry"] == listed[-1].counts["entry"] + 2
    at = datetime(2026, 6, 2, tzinfo=UTC)
    said = " ".join(finding.what for finding in examine(filled, at) if not finding.well)
    assert ("which is yet to come: a clock was wrong" in said) == (years[-1] > 2026)
    assert today(filled, at).last_backup_old == (years[-1] != 2026)


def test_the_same_moment_twice_makes_two_backups(filled):
    first, second = make_backup(filled, START), make_backup(filled, START)
    assert first.path != second.path
    assert [backup.path for backup in list_of(filled)] == [second.path, first.path]


def test_what_makes_a_backup_due(filled):
    make_backup(filled, START)
    soon = START + timedelta(minutes=5)
    quiet = standing(filled)
    assert quiet.changes == 0
    assert not due(quiet, soon, MOST_RUNNING_S + 1, first=True)  # nothing was changed
    work(filled)
    stand = standing(filled)
    assert stand.changes == 1
    assert not due(stand, soon, 60.0)
    assert due(stand, soon, 60.0, first=True)
    assert due(stand, soon, MOST_RUNNING_S)
    assert not due(stand, soon)  # one command: it does not run for long
    assert due(quiet, START + timedelta(days=1))
    assert due(quiet, START - timedelta(days=1))
    work(filled, MOST_CHANGES - 1)
    assert due(standing(filled), soon)
    assert kept_in_time(filled, soon) is not None


def test_trouble_is_told_and_over_when_it_is_over(filled):
    keeper = Keeper(lambda: filled, lambda: START)
    (filled.folder / BACKUPS).write_text("a file where the folder should be")
    assert keeper.look() is None
    assert "cannot be written" in keeper.trouble
    (filled.folder / BACKUPS).unlink()
    assert keeper.look() is not None
    assert keeper.trouble == ""


def test_records_older_than_the_last_backup_are_said_and_push_nothing_out(tmp_path):
    shop = shop_at(tmp_path / "shop")
    fill(shop)
    shop.close()
    shutil.copy2(shop.folder / "shop.db", tmp_path / "old.db")
    shop = shop_at(tmp_path / "shop")
    work(shop, 5)
    make_backup(shop, START)
    shop.close()
    shutil.copy2(tmp_path / "old.db", shop.folder / "shop.db")
    shop = shop_at(tmp_path / "shop")
    keeper = Keeper(lambda: shop, lambda: later(days=3).at)
    assert keeper.look() is None
    assert keeper.older
    said = [finding for finding in examine(shop, later(days=3).at) if "older file" in finding.what]
    assert said[0].mend == f"restore a backup: breakangle restore {list_of(shop)[0].path.name}"
    shop.close()
    restore_backup(shop.folder, list_of(shop)[0].path, later(days=3).at)
    shop = shop_at(tmp_path / "shop")
    assert not standing(shop).older
    shop.close()


def test_a_restored_older_backup_is_meant_and_is_backed_up_again(filled):
    first = make_backup(filled, START)
    work(filled, 5)
    make_backup(filled, later(minutes=1).at)
    if filled.is_file:
        filled.close()
        restore_backup(filled.folder, first.path, later(minutes=2).at)
    else:
        restore_on_server(filled, first.path, later(minutes=2).at)
    stand = standing(filled)
    assert (stand.older, stand.changes > 0) == (False, True)
    assert Keeper(lambda: filled, lambda: later(minutes=3).at).look() is not None


def test_a_backup_is_restored_as_a_trial(filled):
    made = make_backup(filled, START)
    assert tried(made.path) == ""
    records = next(made.path.glob("shop.*"))
    records.write_bytes(records.read_bytes()[:-100])
    assert "is damaged" in tried(made.path)


def _make_backups_for_ever(folder) -> None:
    shop, count = shop_at(folder), 0
    while True:
        count += 1
        work(shop)
        make_backup(shop, later(minutes=count).at)


def test_killed_while_it_is_made_no_broken_copy_counts(tmp_path):
    shop = shop_at(tmp_path)
    fill(shop)
    shop.close()
    context, seen = multiprocessing.get_context("spawn"), 0
    for kill in range(KILLS):
        process = context.Process(target=_make_backups_for_ever, args=(tmp_path,))
        process.start()
        before, until = seen, time.monotonic() + 60
        while len(backups(tmp_path / BACKUPS)) <= before and time.monotonic() < until:
            time.sleep(0.01)
        time.sleep(0.003 * kill)
        os.kill(process.pid, signal.SIGKILL)
        process.join()
        listed = backups(tmp_path / BACKUPS)
        seen = len(listed)
        assert seen > before
        for backup in listed[: seen - before]:
            verified(backup.path)
    assert [backup.sequence for backup in backups(tmp_path / BACKUPS)] == list(range(seen, 0, -1))


def test_a_copy_before_a_migration_that_was_killed_is_not_taken_for_whole(tmp_path):
    path = tmp_path / "shop.db"
    engine = engine_for(path)
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        upgrade(connection, "0005")
    (tmp_path / BACKUPS).mkdir()
    copy = tmp_path / BACKUPS / "before-leaving-schema-0005.db"
    copy.write_bytes(path.read_bytes()[:5000])  # what a killed copying has left
    migrate(engine)
    engine.dispose()
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == ("0005",)


def test_the_server_makes_one_when_it_ends(tmp_path):
    shop = shop_at(tmp_path)
    fill(shop)
    keeper = Keeper(lambda: shop)
    keeper.start()
    keeper.stop()
    assert len(list_of(shop)) == 1
    open_visit(shop, Stamp("Ada", datetime.now(UTC)), shop.every(InstrumentRecord)[0])
    shop.close()
