"""Records: growth from 10³ to 2 × 10⁶ readings on both engines, writers, kills, and a backup while writing."""

import shutil
import sqlite3
import threading
import time
from contextlib import closing, suppress
from pathlib import Path

from bench._large_shop import HEAD, new_folder, picked, row_of
from breakangle.desk.example import usual_instrument
from breakangle.desk.shop_open import shop_at
from breakangle.desk.shop_readings import take_reading
from breakangle.desk.shop_visits import add_instrument, open_visit
from breakangle.shop.backup import make_backup
from breakangle.shop.entries import entries_of
from breakangle.shop.errors import ShopOutOfReachError
from breakangle.shop.store import Shop
from breakangle.tables.families import family
from shop_fixtures.crowd import crowd
from shop_fixtures.killing import killed_rounds
from shop_fixtures.many import fill_many
from shop_fixtures.people import ADA, GAP, later
from shop_fixtures.server import Server, programs

SIZES, QUICK_SIZES = (1_000, 10_000, 100_000, 1_000_000), (1_000, 10_000)
LARGEST = 2_000_000
ROUNDS, QUICK_ROUNDS = 200, 10
COMMITS = 300


def report(quick: bool = False) -> str:
    """Return the tables; without PostgreSQL installed, those of SQLite, and says so."""
    found = programs()
    server = Server(found) if found is not None else None
    folder = new_folder()
    try:
        lines = [*_growth(folder, server, quick), *_writing(folder), *_killed(folder, quick)]
        lines += (
            _crowded(folder, server) if server else ["PostgreSQL is not installed: its figures are missing"]
        )
        return "\n".join(lines)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        if server is not None:
            server.remove()


def _growth(folder: Path, server: Server | None, quick: bool) -> list[str]:
    lines = [HEAD]
    for readings in QUICK_SIZES if quick else (*SIZES, LARGEST):
        shop = shop_at(folder / f"sqlite{readings}")
        lines.append(row_of(shop, "SQLite", readings))
        if readings == LARGEST or (quick and readings == QUICK_SIZES[-1]):
            lines += _backed_up(shop)
        shop.close()
        shutil.rmtree(folder / f"sqlite{readings}")
        if server is not None and readings != LARGEST:
            shop = shop_at(folder / f"server{readings}", server.new_database())
            lines.append(row_of(shop, "PostgreSQL", readings))
            shop.close()
    return lines


def _backed_up(shop: Shop) -> list[str]:
    """Back the shop up while another thread writes; the copy must be one moment, without a gap."""
    visit, stop = picked(shop, 1)[0], threading.Event()
    written = [0]

    def write() -> None:
        while not stop.is_set():
            with suppress(ShopOutOfReachError):
                take_reading(shop, visit.id, GAP, ADA)
                written[0] += 1

    writer = threading.Thread(target=write)
    writer.start()
    start = time.perf_counter()
    made = make_backup(shop, ADA.at)
    took = time.perf_counter() - start
    stop.set()
    writer.join()
    copy = shop_at(made.path)
    places = [one.place for one in entries_of(copy, visit.id)]
    copy.close()
    whole = places == list(range(1, len(places) + 1))
    size = (made.path / "shop.db").stat().st_size / 1e9
    return [
        f"backup of {size:.2f} GB while {written[0]} readings were written: {took:.1f} s with opening, integrity "
        f"check and count; {'consistent' if whole else 'NOT CONSISTENT'}"
    ]


def _writing(folder: Path) -> list[str]:
    """Compare a reading stored through the desk with one row stored by bare sqlite3, both one commit each."""
    shop = shop_at(folder / "writing")
    fill_many(shop, 1000)
    visit = picked(shop, 1)[0]
    start = time.perf_counter()
    for number in range(COMMITS):
        take_reading(shop, visit.id, GAP, later(minutes=number))
    ours = COMMITS / (time.perf_counter() - start)
    shop.close()
    with closing(sqlite3.connect(folder / "bare.db", isolation_level=None)) as bare:
        bare.execute("PRAGMA journal_mode=WAL")
        bare.execute("PRAGMA synchronous=FULL")
        bare.execute("CREATE TABLE reading (id TEXT PRIMARY KEY, body TEXT)")
        start = time.perf_counter()
        for number in range(COMMITS):
            bare.execute("INSERT INTO reading VALUES (?, ?)", (str(number), str(GAP)))
        plain = COMMITS / (time.perf_counter() - start)
    return [
        f"one reading a commit, checked against its instrument: {ours:.0f}/s, "
        f"{ours / plain:.2f} of bare sqlite3 ({plain:.0f}/s), growing to {COMMITS} readings in the visit"
    ]


def _killed(folder: Path, quick: bool) -> list[str]:
    rounds = QUICK_ROUNDS if quick else ROUNDS
    found = killed_rounds(folder / "killed", rounds=rounds, writers=4, seed=11)
    return [
        f"SIGKILL at random moments, {rounds} rounds, 4 writers: {found.acknowledged} acknowledged, "
        f"{found.lost} lost, {found.torn} torn, {found.unsound} unsound files"
    ]


def _crowded(folder: Path, server: Server) -> list[str]:
    url = server.new_database()
    shop = shop_at(folder / "crowd", url)
    visit = open_visit(
        shop, ADA, add_instrument(shop, ADA, usual_instrument(family("electric-guitar"), "Rook"))
    )
    shop.close()
    start = time.perf_counter()
    readings, updates, met = crowd(folder / "crowd", url, visit.id, writers=16, times=15)
    took = time.perf_counter() - start
    return [
        f"PostgreSQL, 16 writers of one sheet, 240 readings and 240 edits in {took:.1f} s: {readings} readings "
        f"lost, {updates} updates lost; two met {met} times, and each time the later one was told"
    ]
