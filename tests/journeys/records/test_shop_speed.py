"""A shop of many readings answers at once, on both engines; many writers lose nothing on the server."""

import random
from functools import partial

from breakangle.reference.families import family
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import add_instrument, history, open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.search.search import search
from shop_fixtures.crowd import crowd
from shop_fixtures.many import fill_many
from shop_fixtures.people import ADA
from shop_fixtures.statements import scans, sent_by

pytest_plugins = ["shop_fixtures.shops"]


def test_opening_a_sheet_its_history_and_a_search_read_no_more_of_a_larger_shop(new_shop):
    """How long each takes, `python -m bench records` says, with up to three million readings."""

    def found(shop: Shop, words: str) -> int:
        with shop.reading() as connection:
            return len(search(connection, words))

    asked = []
    for readings in (2_000, 20_000):
        shop = new_shop(f"of {readings}")
        fill_many(shop, readings)
        visit = random.Random(1).choice(shop.every(Visit))
        _, sheet = sent_by(shop, partial(service_of, shop, visit.id))
        _, told = sent_by(shop, partial(history, shop, visit.instrument_id))
        rare, looked = sent_by(shop, partial(found, shop, visit.complaint[:-2]))
        assert rare >= 1
        assert scans(shop, sheet) == scans(shop, told) == set()
        asked.append([len(sheet), len(told), len(looked)])
    assert asked[0] == asked[1]
    assert found(shop, "buzz") == 50


def test_sixteen_writers_at_once_lose_no_reading_and_no_update(server, migrated, tmp_path):
    url = server.new_database(migrated)
    shop = shop_at(tmp_path, url)
    record = add_instrument(shop, ADA, usual_instrument(family("electric-guitar"), "Rook"))
    visit = open_visit(shop, ADA, record)
    shop.close()
    lost_readings, lost_updates, met = crowd(tmp_path, url, visit.id, writers=16, times=6)
    assert (lost_readings, lost_updates) == (0, 0)
    assert met > 0
