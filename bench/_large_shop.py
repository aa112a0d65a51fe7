"""One shop of a size, timed: opening a sheet, its history, a search; beside them the bare database's answer."""

import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from sqlalchemy import func, select, text

from breakangle.services.visits.entries import service_of, take_reading
from breakangle.services.visits.visits import history
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.tables import VISIT
from breakangle.storage.search.search import search
from shop_fixtures.many import fill_many
from shop_fixtures.people import GAP, later

OPENED, TAKEN = 100, 200


def median_ms(todo: Callable[[Any], object], choices: Iterable[Any]) -> float:
    taken = []
    for one in choices:
        start = time.perf_counter()
        todo(one)
        taken.append(time.perf_counter() - start)
    return 1000.0 * statistics.median(taken)


def picked(shop: Shop, count: int) -> list[Visit]:
    """Return visits from all over the shop."""
    chance = random.Random(3)
    with shop.reading() as connection:
        last = int(connection.execute(select(func.max(VISIT.c.number))).scalar_one())
    return [shop.every(Visit, number=chance.randint(1, last))[0] for _ in range(count)]


def row_of(shop: Shop, engine: str, readings: int) -> str:
    """Fill the shop and return one row of the table."""
    start = time.perf_counter()
    fill_many(shop, readings)
    filled = time.perf_counter() - start
    visits = picked(shop, OPENED)

    def bare(visit: Visit) -> None:
        with shop.engine.connect() as connection:
            connection.execute(text("SELECT * FROM visit WHERE id = :id"), {"id": visit.id}).fetchall()
            connection.execute(text("SELECT * FROM entry WHERE visit_id = :id"), {"id": visit.id}).fetchall()

    def found(words: str) -> None:
        with shop.reading() as connection:
            search(connection, words)

    sheet = median_ms(lambda one: service_of(shop, one.id), visits)
    plain = median_ms(bare, visits)
    told = median_ms(lambda one: history(shop, one.instrument_id), visits)
    rare = median_ms(found, [one.complaint for one in visits])
    common = median_ms(found, ["buzz low", "hard", "rat", "check"] * 10)
    one = median_ms(lambda n: take_reading(shop, visits[0].id, GAP, later(minutes=n)), range(TAKEN))
    return (
        f"{engine:11}{readings:>9}  {filled:6.1f} s  {sheet:7.2f} ({sheet / plain:4.1f} x bare) "
        f"{told:8.2f}  {rare:8.2f}  {common:8.2f}  {one:8.2f}"
    )


HEAD = (
    "engine      readings    filled  sheet ms             history  rare word  common    take a reading\n"
    "            (medians of 100; bare: the same two SELECTs without checking and decoding)"
)


def new_folder() -> Path:
    """Return a new temporary folder."""
    return Path(tempfile.mkdtemp(prefix="shop-bench-"))
