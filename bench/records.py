"""Records: growth from 10³ to 3 × 10⁶ readings on both engines, writers, kills, backups while writing, out and in."""

import shutil
import sqlite3
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from bench._large_shop import (
    HEAD,
    median_ms,
    new_folder,
    picked,
    row_of,
)  # first: it finds the tests' own folder

from bench._busy_shop import backed_up_while_writing, killed, taken_out_and_in  # isort: skip
from breakangle.reference.families import family
from breakangle.services.example_workshop.workshop import load_example
from breakangle.services.history.drift import reckon
from breakangle.services.history.timeline import timeline
from breakangle.services.overview.today import today
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.visits import add_instrument, open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.records.entries import take_entry
from shop_fixtures.copied import analyzed, copy_times
from shop_fixtures.crowd import crowd
from shop_fixtures.many import fill_many
from shop_fixtures.people import ADA, GAP, later
from shop_fixtures.server import Server, programs

SIZES, QUICK_SIZES = (1_000, 10_000, 100_000, 1_000_000), (1_000, 10_000)
LARGEST = 3_000_000  # a file of a little more than a gigabyte
ROUNDS, QUICK_ROUNDS = 200, 10
COMMITS = 300


def report(quick: bool = False) -> str:
    """Return the tables; without PostgreSQL installed, those of SQLite, and says so."""
    found = programs()
    server = Server(found) if found is not None else None
    folder = new_folder()
    try:
        lines = [*_growth(folder, server, quick), *_seen(folder, server), *_writing(folder)]
        lines += killed(folder / "killed", QUICK_ROUNDS if quick else ROUNDS)
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
            lines.append(f"backup, SQLite: {backed_up_while_writing(shop)[0]}")
            lines.append(taken_out_and_in(shop, folder))
        shop.close()
        shutil.rmtree(folder / f"sqlite{readings}")
        if server is not None and readings != LARGEST:
            url = server.new_database()
            shop = shop_at(folder / f"server{readings}", url)
            lines.append(row_of(shop, "PostgreSQL", readings))
            if readings == (QUICK_SIZES if quick else SIZES)[-1]:
                lines.append(f"backup, PostgreSQL: {backed_up_while_writing(shop, url)[0]}")
            shop.close()
            shutil.rmtree(folder / f"server{readings}")
    return lines


def _seen(folder: Path, server: Server | None) -> list[str]:
    """Time the day's list of a hundred example workshops, and the timeline of an instrument of forty visits."""
    lines, now = [], datetime(2027, 1, 11, 9, tzinfo=UTC)
    example = shop_at(load_example(folder, now))
    export_shop(example, folder / "example.zip")
    example.close()
    for engine, url in (("SQLite", None), ("PostgreSQL", server.new_database() if server else None)):
        if engine != "SQLite" and url is None:
            continue
        shop = shop_at(folder / f"seen {engine}", url)
        import_shop(shop, folder / "example.zip")
        copy_times(shop, 100)
        start = time.perf_counter()
        reckon(shop)
        reckoned = time.perf_counter() - start
        analyzed(shop)
        day = median_ms(lambda _, shop=shop: today(shop, now), range(50))
        record = add_instrument(shop, ADA, usual_instrument(family("electric-guitar"), "Rook"))
        for number in range(40):
            visit = open_visit(shop, later(days=10 * number), record, humidity_percent=40.0)
            with shop.writing() as connection:
                for count in range(30):
                    body = f'{{"quantity":"gap","string":{1 + count % 6},"fret":12,"held":[1],"mm":1.8}}'
                    take_entry(connection, visit.id, "reading", body, ADA)
        told = median_ms(lambda _, shop=shop, key=record.id: timeline(shop, key), range(50))
        lines.append(
            f"{engine}, 100 example workshops: all due dates reckoned anew in {reckoned:.1f} s; today {day:.1f} ms, "
            f"timeline of 40 visits with 30 readings each {told:.1f} ms (medians of 50)"
        )
        shop.close()
    return lines


def _writing(folder: Path) -> list[str]:
    """Compare a reading stored through the services with one row stored by bare sqlite3, both one commit each."""
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
