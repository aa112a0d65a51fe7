"""A reading that a phone sends again because it heard no answer is stored once; on both engines."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import text

from breakangle.model.errors import CorrectInputError
from breakangle.model.service_file import ServiceFileError
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import open_visit
from breakangle.services.workshop.opening import backed_up
from breakangle.storage.backup.copies import make_backup
from breakangle.storage.backup.restoring import restore_backup, restore_on_server
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.records.answered import claim_key, forget_answers
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import InstrumentRecord
from shop_fixtures.people import ADA, BO, GAP, ROD, START, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def visit(shop) -> str:
    return bring_in(shop, example_text().encode(), "a file", ADA).visit.id


def keys(shop) -> int:
    with shop.reading() as connection:
        return int(connection.execute(text("SELECT count(*) FROM answered")).scalar_one())


def test_sent_twice_it_is_stored_once(shop, visit):
    before = len(entries_of(shop, visit))
    first = take_reading(shop, visit, GAP, ADA, key="phone-1")
    again = take_reading(shop, visit, GAP, later(minutes=3), key="phone-1")
    other = take_reading(shop, visit, GAP, ADA, key="phone-2")
    assert again == first
    assert other.place == first.place + 1
    assert len(entries_of(shop, visit)) == before + 2
    turned = do_adjustment(shop, visit, ROD, ADA, key="phone-3")
    assert do_adjustment(shop, visit, ROD, BO, key="phone-3") == turned
    assert len(service_of(shop, visit).work) == 1


def test_without_a_key_everything_is_stored(shop, visit):
    assert take_reading(shop, visit, GAP, ADA).id != take_reading(shop, visit, GAP, ADA).id
    assert keys(shop) == 0


def test_what_was_refused_may_be_sent_again_put_right(shop, visit):
    with pytest.raises(ServiceFileError):
        take_reading(shop, visit, GAP | {"string": 99}, ADA, key="k")
    assert keys(shop) == 0
    assert take_reading(shop, visit, GAP, ADA, key="k").body is not None
    for wrong in ("", "x" * 201, "a\0b"):
        with pytest.raises(CorrectInputError):
            take_reading(shop, visit, GAP, ADA, key=wrong)


def test_sent_many_times_at_one_moment_it_is_stored_once(shop, visit):
    before = len(entries_of(shop, visit))

    def one(count: int) -> str:
        return take_reading(shop, visit, GAP, later(minutes=count), key=f"k{count % 4}").id

    with ThreadPoolExecutor(16) as pool:
        made = list(pool.map(one, range(64)))
    assert len(set(made)) == 4
    assert len(entries_of(shop, visit)) == before + 4


def test_one_key_for_two_visits_at_one_moment_is_one_entry(shop, visit):
    record = shop.every(InstrumentRecord)[0]
    visits = [visit, *(open_visit(shop, ADA, record).id for _ in range(7))]
    with ThreadPoolExecutor(8) as pool:
        made = list(pool.map(lambda one: take_reading(shop, one, GAP, ADA, key="k").id, visits))
    assert len(set(made)) == 1


def test_keys_are_let_go_of_after_sixty_days(shop, visit):
    take_reading(shop, visit, GAP, ADA, key="old")
    take_reading(shop, visit, GAP, later(days=2), key="young")
    with shop.writing() as connection:
        assert forget_answers(connection, later(days=59.9).at) == 0
        assert forget_answers(connection, later(days=61).at) == 1
    with shop.writing() as connection:
        assert claim_key(connection, "young", later(days=61).at) is not None
        assert claim_key(connection, "old", later(days=61).at) is None


def test_the_daily_round_lets_go_of_old_keys(shop, visit):
    take_reading(shop, visit, GAP, ADA, key="old")
    assert backed_up(shop, later(days=61).at) == ""
    assert keys(shop) == 0


def test_after_a_restore_what_is_sent_again_is_stored_once(shop, visit):
    """What the backup holds is not doubled; what it does not hold any more is stored anew, and then once."""
    kept = take_reading(shop, visit, GAP, ADA, key="kept")
    made = make_backup(shop, START)
    gone = take_reading(shop, visit, GAP | {"mm": 1.1}, BO, key="gone")
    if shop.is_file:
        shop.close()
        restore_backup(shop.folder, made.path, START)
    else:
        restore_on_server(shop, made.path, START)
    assert take_reading(shop, visit, GAP, ADA, key="kept") == kept
    again = take_reading(shop, visit, GAP | {"mm": 1.1}, BO, key="gone")
    assert again.place == gone.place
    assert take_reading(shop, visit, GAP | {"mm": 1.1}, BO, key="gone") == again


def test_keys_stay_with_the_shop_that_answered(new_shop, shop, visit, tmp_path):
    """In another shop nobody waits for these answers; and one whose entry is not there is stored there."""
    first = take_reading(shop, visit, GAP, ADA, key="k")
    export_shop(shop, tmp_path / "all.zip")
    other = new_shop("other")
    import_shop(other, tmp_path / "all.zip")
    assert keys(other) == 0
    with other.writing() as connection:
        connection.execute(
            text("INSERT INTO answered (key, at, answer) VALUES ('k', :at, 'gone')"),
            {"at": "2027-01-11T09:00:00.000000Z"},
        )
    stored = take_reading(other, visit, GAP, BO, key="k")
    assert stored.place == first.place + 1
    assert take_reading(other, visit, GAP, BO, key="k") == stored
