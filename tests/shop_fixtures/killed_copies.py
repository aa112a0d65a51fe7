"""Processes killed with SIGKILL while they back up, or bring a shop to a new schema; then every copy is looked at."""

import multiprocessing
import random
import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import text

from breakangle.model.errors import BreakangleError
from breakangle.services.visits.entries import take_reading
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.copies import make_backup, verified
from breakangle.storage.connection.opening import engine_for, head, migrate, upgrade
from breakangle.storage.files.backup_listing import BACKUPS, backups
from breakangle.storage.records.records import Visit
from shop_fixtures.filled import fill
from shop_fixtures.people import ADA, GAP, later

OLD, ROWS, LONGEST_S, SLOWEST_S = "0005", 3000, 0.6, 120.0
COPY = f"before-leaving-schema-{OLD}.db"


@dataclass
class Killed:
    """What so many kills came to: copies that counted, and what was wrong with any."""

    kills: int = 0
    in_the_middle: int = 0
    copies: int = 0
    wrong: list[str] = field(default_factory=list)


def _started(work: Callable[..., None], *words: Any) -> Any:
    process = multiprocessing.get_context("fork").Process(target=work, args=words)
    process.start()
    return process


def _make_backups_for_ever(folder: Path) -> None:
    shop, count = shop_at(folder), 0
    while True:
        count += 1
        take_reading(shop, shop.every(Visit)[0].id, GAP, ADA)
        make_backup(shop, later(minutes=count).at)


def killed_backups(folder: Path, kills: int, seed: int) -> Killed:
    """Kill a process that makes one backup after another, at random moments, and open and count every new one."""
    dice, outcome, seen = random.Random(seed), Killed(), 0
    shop = shop_at(folder)
    fill(shop)
    shop.close()
    for _ in range(kills):
        process = _started(_make_backups_for_ever, folder)
        until = time.monotonic() + SLOWEST_S
        before = backups(folder / BACKUPS)
        newest = before[0].sequence if before else 0
        while newest == seen and time.monotonic() < until:  # until one was made by this process
            listed = backups(folder / BACKUPS)
            newest = listed[0].sequence if listed else 0
            time.sleep(0.005)
        time.sleep(dice.uniform(0.0, LONGEST_S))
        process.kill()
        process.join()
        outcome.kills += 1
        outcome.in_the_middle += any(one.name.startswith(".") for one in (folder / BACKUPS).iterdir())
        listed = backups(folder / BACKUPS)
        newest = listed[0].sequence
        for backup in (one for one in listed if one.sequence > seen):
            outcome.copies += 1
            try:
                verified(backup.path)
            except BreakangleError as cause:
                outcome.wrong.append(f"kill {outcome.kills}, {backup.path.name}: {cause}")
        if newest <= seen:
            outcome.wrong.append(f"kill {outcome.kills}: no backup was made")
        seen = newest
    return outcome


def old_shop(path: Path) -> None:
    """Make records of an earlier schema, with so many owners that a migration takes a while."""
    engine = engine_for(path)
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        upgrade(connection, OLD)
        row = text("INSERT INTO owner VALUES (:id, 1, :at, 'Ada', :at, 'Ada', NULL, 'Åse', '', :notes)")
        at = "2027-01-11T09:00:00.000000Z"
        rows = [{"id": f"o{number:05}", "at": at, "notes": "x" * 400} for number in range(ROWS)]
        connection.execute(row, rows)
    engine.dispose()


def _bring_on(path: Path) -> None:
    engine = engine_for(path)
    migrate(engine)
    engine.dispose()


def killed_migrations(folder: Path, kills: int, seed: int) -> Killed:
    """Kill a process before and in a migration; no broken copy is taken for whole, and the records come on after."""
    dice, outcome = random.Random(seed), Killed()
    old_shop(folder / "old.db")
    began = time.monotonic()
    shutil.copy(folder / "old.db", folder / "timed.db")
    _started(_bring_on, folder / "timed.db").join()
    takes_s = time.monotonic() - began
    for number in range(kills):
        here = folder / f"killed-{number}"
        (here / BACKUPS).mkdir(parents=True)
        shutil.copy(folder / "old.db", here / "shop.db")
        process = _started(_bring_on, here / "shop.db")
        time.sleep(dice.uniform(0.0, takes_s))
        outcome.in_the_middle += process.is_alive()
        process.kill()
        process.join()
        outcome.kills += 1
        _looked_at(here, number + 1, outcome)
        shutil.rmtree(here)
    return outcome


def _looked_at(here: Path, kill: int, outcome: Killed) -> None:
    """Count the copy that was kept, if it counts as one, and bring the records on again."""
    copy = here / BACKUPS / COPY
    if copy.exists():
        outcome.copies += 1
        outcome.wrong += [f"kill {kill}: the copy: {one}" for one in _faults(copy, OLD)]
    try:
        _bring_on(here / "shop.db")
    except Exception as cause:  # whatever it is, it is what this looks for
        outcome.wrong.append(f"kill {kill}: not brought on again: {cause!r}"[:200])
        return
    outcome.wrong += [f"kill {kill}: the records: {one}" for one in _faults(here / "shop.db", head())]
    outcome.wrong += [f"kill {kill}: the copy after: {one}" for one in _faults(copy, OLD)]


def _faults(path: Path, revision: str) -> list[str]:
    """Return what is wrong with a file of records."""
    try:
        with closing(sqlite3.connect(path)) as connection:
            sound = connection.execute("PRAGMA integrity_check").fetchall()
            schema = connection.execute("SELECT version_num FROM alembic_version").fetchall()
            count = connection.execute("SELECT count(*) FROM owner").fetchone()[0]
    except sqlite3.Error as cause:
        return [str(cause)]
    told = {"examination": (sound, [("ok",)]), "schema": (schema, [(revision,)]), "rows": (count, ROWS)}
    return [f"{name} {have}, not {want}" for name, (have, want) in told.items() if have != want]
