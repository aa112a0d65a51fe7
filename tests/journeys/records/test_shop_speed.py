"""A shop of many readings answers at once, on both engines; many writers lose nothing on the server."""

import random
import statistics
import time

from breakangle.reference.families import family
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import add_instrument, history, open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import Visit
from breakangle.storage.search.search import search
from shop_fixtures.crowd import crowd
from shop_fixtures.many import fill_many
from shop_fixtures.people import ADA

pytest_plugins = ["shop_fixtures.shops"]
MOST_S = 0.050


def median_s(todo, choices) -> float:
    taken = []
    for one in choices:
        start = time.perf_counter()
        todo(one)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def test_opening_a_sheet_its_history_and_a_search_take_at_most_50_ms(shop):
    """The benchmark `records` does the same with two million readings."""
    fill_many(shop, 20_000)
    visits = random.Random(1).sample(shop.every(Visit), 30)

    def found(words: str) -> int:
        with shop.reading() as connection:
            return len(search(connection, words))

    assert median_s(lambda one: service_of(shop, one.id), visits) <= MOST_S
    assert median_s(lambda one: history(shop, one.instrument_id), visits) <= MOST_S
    assert median_s(found, [one.complaint[:-2] for one in visits] + ["buzz"] * 10) <= MOST_S
    assert found("buzz") == 50
    assert found(visits[0].complaint) >= 1


def test_sixteen_writers_at_once_lose_no_reading_and_no_update(server, migrated, tmp_path):
    url = server.new_database(migrated)
    shop = shop_at(tmp_path, url)
    record = add_instrument(shop, ADA, usual_instrument(family("electric-guitar"), "Rook"))
    visit = open_visit(shop, ADA, record)
    shop.close()
    lost_readings, lost_updates, met = crowd(tmp_path, url, visit.id, writers=16, times=6)
    assert (lost_readings, lost_updates) == (0, 0)
    assert met > 0
