"""Rounds of writers on one file, each round ended by SIGKILL; then everything acknowledged must be there."""

import json
import multiprocessing
import os
import random
import signal
import time
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import text

from breakangle.desk.example import example_text
from breakangle.desk.shop_open import shop_at
from breakangle.desk.shop_readings import do_adjustment, service_of, take_reading
from breakangle.desk.shop_service_files import bring_in
from breakangle.desk.shop_visits import open_visit
from breakangle.shop.entries import entries_of
from breakangle.shop.errors import ShopOutOfReachError
from breakangle.shop.records import InstrumentRecord, Visit
from breakangle.shop.store import Shop
from shop_fixtures.people import ADA, GAP, ROD, later

LEAST_S, MOST_S = 0.05, 0.5


@dataclass
class Outcome:
    """What the rounds came to."""

    acknowledged: int = 0
    lost: int = 0
    torn: int = 0
    unsound: int = 0


def _write_for_ever(folder: Path, visit: str, writer: int, pipe: int) -> None:
    """Take readings, and now and then open a visit or turn the rod, telling the pipe of each when it is stored."""
    shop, count = shop_at(folder), 0
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
            continue  # kept waiting too long: not acknowledged, so nothing was promised
        os.write(pipe, (json.dumps(told) + "\n").encode())


def _one_round(folder: Path, visit: str, writers: int, chance: random.Random) -> list[list[str]]:
    """Let the writers write, kill them all at one random moment, and return what they were told is stored."""
    fork = multiprocessing.get_context("fork")
    out, into = os.pipe()
    children = [
        fork.Process(target=_write_for_ever, args=(folder, visit, number, into)) for number in range(writers)
    ]
    for child in children:
        child.start()
    os.close(into)
    time.sleep(chance.uniform(LEAST_S, MOST_S))
    for child in children:
        os.kill(child.pid, signal.SIGKILL)
    for child in children:
        child.join()
    with os.fdopen(out, "rb") as file:
        lines = file.read().split(b"\n")[:-1]
    return [json.loads(line) for line in lines]


def killed_rounds(folder: Path, rounds: int, writers: int, seed: int) -> Outcome:
    """Return what so many killed rounds came to, the shop checked after each."""
    chance, outcome = random.Random(seed), Outcome()
    shop = shop_at(folder)
    bring_in(shop, example_text().encode(), "a file", ADA)
    record = shop.every(InstrumentRecord)[0]
    for number in range(rounds):
        visit = open_visit(shop, later(minutes=number), record).id
        shop.close()
        told = _one_round(folder, visit, writers, chance)
        outcome.acknowledged += len(told)
        _compare(shop, visit, told, outcome)
    shop.close()
    return outcome


def _compare(shop: Shop, visit: str, told: list[list[str]], outcome: Outcome) -> None:
    kept = {one.id: json.loads(one.body or "null") for one in entries_of(shop, visit)}
    visits = {one.id for one in shop.every(Visit)}
    for one in told:
        here = one[1] in (visits if one[0] == "visit" else kept)
        outcome.lost += not here
        outcome.torn += here and one[0] == "entry" and kept[one[1]] != json.loads(one[2])
    # A visit without its number, or an entry without its place, would be torn too.
    numbers = sorted(one.number for one in shop.every(Visit))
    places = [one.place for one in entries_of(shop, visit)]
    outcome.torn += numbers != list(range(1, len(numbers) + 1)) or places != list(range(1, len(places) + 1))
    outcome.torn += len(service_of(shop, visit).readings) + len(service_of(shop, visit).work) != len(kept)
    with shop.reading() as connection:
        outcome.unsound += connection.execute(text("PRAGMA integrity_check")).scalar_one() != "ok"
