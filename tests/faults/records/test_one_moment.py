"""All that one request reads is of one moment: nothing that others store meanwhile, everything it stores itself."""

import threading

import pytest

from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import service_of, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.connection.moment import one_moment
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import Visit
from breakangle.storage.schema.errors import NoSuchRecordError
from shop_fixtures.people import ADA, GAP

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def visit(shop):
    return bring_in(shop, example_text().encode(), "a file", ADA).visit


def elsewhere(todo) -> None:
    """Do something as another request does: in a thread that is in no moment."""
    thread = threading.Thread(target=todo)
    thread.start()
    thread.join()


def test_a_moment_has_nothing_of_what_others_store_meanwhile(shop, visit):
    other = shop_at(shop.folder, None if shop.is_file else shop.place)
    before, words = len(entries_of(shop, visit.id)), visit.complaint
    with one_moment():
        assert shop.get(Visit, visit.id).complaint == words
        elsewhere(lambda: take_reading(shop, visit.id, GAP, ADA))
        elsewhere(lambda: shop.change(visit, ADA, complaint="hums"))
        assert len(entries_of(shop, visit.id)) == before
        assert shop.get(Visit, visit.id).complaint == words
        assert (
            len(entries_of(other, visit.id)) == before + 1
        )  # another connection's question is another moment
    assert len(entries_of(shop, visit.id)) == before + 1
    assert shop.get(Visit, visit.id).complaint == "hums"
    other.close()


def test_a_moment_has_what_was_stored_in_it(shop, visit):
    before = len(entries_of(shop, visit.id))
    with one_moment():
        assert len(entries_of(shop, visit.id)) == before
        take_reading(shop, visit.id, GAP, ADA)
        assert len(entries_of(shop, visit.id)) == before + 1
        with shop.reading() as connection:  # stored while something is being read: that goes on as it was
            take_reading(shop, visit.id, GAP | {"mm": 1.7}, ADA)
            assert connection.closed is False
        assert len(entries_of(shop, visit.id)) == before + 2
        assert len(service_of(shop, visit.id).readings) == len(entries_of(shop, visit.id))


def test_a_moment_outlasts_a_record_that_is_not_there_and_ends_with_its_request(shop, visit):
    with one_moment() as moment:
        with pytest.raises(NoSuchRecordError):
            shop.get(Visit, "none")
        assert moment.is_open
        assert shop.get(Visit, visit.id) == visit
    assert not moment.is_open
    assert shop.engine.pool.checkedout() == 0  # type: ignore[attr-defined]
