"""Rounds of writers, each ended by SIGKILL, of a server now and then too; then all that was acknowledged is there."""

import json
import multiprocessing
import os
import random
import signal
import time
from dataclasses import dataclass
from pathlib import Path
from select import select as wait_for
from typing import Any

from sqlalchemy import select, text
from sqlalchemy.exc import DBAPIError

from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import ShopOutOfReachError
from breakangle.storage.schema.tables import METADATA, VISIT
from shop_fixtures.people import ADA, GAP, ROD, later
from shop_fixtures.server import Server

LEAST_S, MOST_S, MOST_OPENING_S = 0.05, 0.5, 180.0


@dataclass
class Outcome:
    """What the rounds came to."""

    acknowledged: int = 0
    server_deaths: int = 0
    lost: int = 0
    torn: int = 0
    unsound: int = 0


def _write_for_ever(folder: Path, url: str | None, visit: str, writer: int, pipe: int, ready: Any) -> None:
    """Take readings, and now and then open a visit or turn the rod, telling the pipe of each when it is stored."""
    shop, count = shop_at(folder, url), 0
    ready.wait(MOST_OPENING_S)
    while True:
        count += 1
        stamp = later(minutes=count, who=f"writer {writer}")
        try:
            if count % 10 == 0:
                record = shop.every(InstrumentRecord)[0]
                told = ["visit", open_visit(shop, stamp, record).id]
            elif count % 7 == 0:
                told = ["entry", do_adjustment(shop, visit, ROD, stamp).id, json.dumps(ROD)]
            else:
                reading = GAP | {"mm": 1.0 + count / 1000 + writer}
                told = ["entry", take_reading(shop, visit, reading, stamp).id, json.dumps(reading)]
        except ShopOutOfReachError:
            continue  # kept waiting too long, or the server has gone: not acknowledged, so nothing was promised
        os.write(pipe, (json.dumps(told) + "\n").encode())


def _one_round(
    folder: Path, url: str | None, visit: str, writers: int, chance: random.Random, dying: Server | None
) -> list[list[str]]:
    """Let the writers write, kill them all at one random moment, and return what they were told is stored.

    The `dying` server is killed at such a moment too, before the writers or after them, and started again.
    """
    fork = multiprocessing.get_context("fork")
    out, into = os.pipe()
    ready = fork.Barrier(writers + 1)
    children = [
        fork.Process(target=_write_for_ever, args=(folder, url, visit, number, into, ready))
        for number in range(writers)
    ]
    for child in children:
        child.start()
    os.close(into)
    ready.wait(MOST_OPENING_S)
    wait_for([out], [], [], MOST_OPENING_S)  # until the first is stored
    time.sleep(chance.uniform(LEAST_S, MOST_S))
    first = chance.random() < 0.5
    if dying is not None and first:
        dying.kill()
        time.sleep(chance.uniform(0.0, LEAST_S))
    for child in children:
        os.kill(child.pid, signal.SIGKILL)
    if dying is not None and not first:
        dying.kill()
    for child in children:
        child.join()
    with os.fdopen(out, "rb") as file:
        lines = file.read().split(b"\n")[:-1]
    if dying is not None:
        dying.start()
    return [json.loads(line) for line in lines]


def killed_rounds(
    folder: Path,
    rounds: int,
    writers: int,
    seed: int,
    server: Server | None = None,
    server_dies_every: int = 3,
) -> Outcome:
    """Return what so many killed rounds came to, the shop checked after each; on a file, or on this server."""
    chance, outcome = random.Random(seed), Outcome()
    url = None if server is None else server.new_database()
    shop = shop_at(folder, url)
    bring_in(shop, example_text().encode(), "a file", ADA)
    record = shop.every(InstrumentRecord)[0]
    for number in range(rounds):
        visit = open_visit(shop, later(minutes=number), record).id
        shop.close()
        dies = server is not None and number % server_dies_every == server_dies_every - 1
        told = _one_round(folder, url, visit, writers, chance, server if dies else None)
        outcome.acknowledged += len(told)
        outcome.server_deaths += dies
        _compare(shop, visit, told, outcome)
    shop.close()
    return outcome


def _compare(shop: Shop, visit: str, told: list[list[str]], outcome: Outcome) -> None:
    kept = {one.id: json.loads(one.body or "null") for one in entries_of(shop, visit)}
    with shop.reading() as connection:
        visits = {row.id: row.number for row in connection.execute(select(VISIT.c.id, VISIT.c.number))}
    for one in told:
        here = one[1] in (visits if one[0] == "visit" else kept)
        outcome.lost += not here
        outcome.torn += here and one[0] == "entry" and kept[one[1]] != json.loads(one[2])
    # A visit without its number, or an entry without its place, would be torn too.
    places = [one.place for one in entries_of(shop, visit)]
    gaps = sorted(visits.values()) != list(range(1, len(visits) + 1))
    outcome.torn += gaps or places != list(range(1, len(places) + 1))
    outcome.torn += len(service_of(shop, visit).readings) + len(service_of(shop, visit).work) != len(kept)
    outcome.unsound += not sound(shop)


def sound(shop: Shop) -> bool:
    """Return whether the engine's own examination finds every page and every index in order."""
    if shop.is_file:
        with shop.reading() as connection:
            return bool(connection.execute(text("PRAGMA integrity_check")).scalar_one() == "ok")
    with shop.writing() as connection:
        connection.execute(text("CREATE EXTENSION IF NOT EXISTS amcheck"))
    named = ", ".join(f"'{name}'" for name in METADATA.tables)
    every = text(
        "SELECT bt_index_check(i.indexrelid, true) FROM pg_index i JOIN pg_class c ON c.oid = i.indexrelid "
        f"JOIN pg_class t ON t.oid = i.indrelid JOIN pg_am a ON a.oid = c.relam WHERE a.amname = 'btree' "
        f"AND t.relname IN ({named})"
    )
    try:
        with shop.engine.connect() as connection:
            return len(connection.execute(every).all()) > len(METADATA.tables)
    except DBAPIError:
        return False
