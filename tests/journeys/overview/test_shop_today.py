"""The day's list: work by state, what is due, what to order, the last backup; quick in a large shop; both engines."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta

import pytest

from breakangle.reference.families import family
from breakangle.services.example_workshop.workshop import load_example
from breakangle.services.history.drift import due, reckon
from breakangle.services.overview.today import MOST_DUE, RECKONED_AT_ONCE, today
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.strings.shelf import add_stock
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.visits import add_instrument, add_owner, open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.copies import make_backup
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.records.due import reckon_everything_again
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.schema.errors import ShopOutOfReachError
from breakangle.storage.schema.tables import STATES
from shop_fixtures.copied import copy_times
from shop_fixtures.people import ADA, BO, GAP, START, later
from shop_fixtures.statements import scans, sent_by

pytest_plugins = ["shop_fixtures.shops"]
NOW = datetime(2027, 1, 11, 9, 0, tzinfo=UTC)
TIMES = 10
# What may be read from end to end: the index of the rooms' months, and the stock, which is a short list.
SCANS = {"SCAN visit USING COVERING INDEX ix_visit_room", "SCAN stock USING INDEX sqlite_autoindex_stock_1"}


def taken_in(shop, name: str, owner: str | None = None, stamp=ADA) -> Visit:
    whose = add_owner(shop, stamp, owner) if owner else None
    record = add_instrument(shop, stamp, usual_instrument(family("electric-guitar"), name), whose)
    return open_visit(shop, stamp, record, "buzzes low down", humidity_percent=45.0)


def test_visits_by_state_with_whose_they_are_and_since_when(shop):
    first, second = taken_in(shop, "Rook", "Åse Holm"), taken_in(shop, "Jackdaw")
    moved = move_visit(shop, first, "on the bench", later(days=1))
    moved = shop.change(moved, later(days=2), notes="fret 9 is high")
    move_visit(shop, moved, "on the bench", later(days=3))
    found = today(shop, later(days=4).at)
    assert tuple(found.work) == STATES
    (bench,), (waiting,) = found.work["on the bench"], found.work["waiting"]
    assert (bench.visit_id, bench.number, bench.instrument, bench.owner) == (first.id, 1, "Rook", "Åse Holm")
    assert (bench.since, bench.opened_at, bench.complaint) == (later(days=1).at, START, "buzzes low down")
    assert (waiting.visit_id, waiting.owner, waiting.since) == (second.id, None, START)
    assert [found.work[state] for state in STATES[2:]] == [()] * 3


def test_what_was_handed_back_stays_a_week_and_a_deleted_visit_is_not_shown(shop):
    back, gone = taken_in(shop, "Rook"), taken_in(shop, "Jackdaw")
    move_visit(shop, back, "handed back", later(days=1))
    shop.delete(gone, ADA)
    assert [one.visit_id for one in today(shop, later(days=7.9).at).work["handed back"]] == [back.id]
    assert today(shop, later(days=8.1).at).work["handed back"] == ()
    assert today(shop, later(days=7.9).at).work["waiting"] == ()


def test_what_is_due_leaves_out_what_is_here_and_follows_every_change(shop):
    visit = taken_in(shop, "Rook")
    year = START + timedelta(days=365)
    assert today(shop, year).due == ()  # it is here
    move_visit(shop, visit, "handed back", later(days=1))
    (one,) = today(shop, year).due
    # A check a year after the last visit: common practice, no source.
    assert (one.what, one.instrument, one.instrument_id) == ("a check", "Rook", visit.instrument_id)
    assert one.on == date(2028, 1, 11)
    assert today(shop, year - timedelta(days=31)).due == ()
    assert today(shop, year + timedelta(days=91)).due == ()
    record = shop.get(InstrumentRecord, visit.instrument_id)
    record = shop.change(record, BO, playing_hours_per_week=6.0)
    assert [two.on for two in due(shop)] == [date(2027, 7, 12)]  # half a year, played much
    shop.delete(record, BO)
    assert today(shop, year - timedelta(days=180)).due == ()
    assert due(shop) == ()
    shop.restore(InstrumentRecord, record.id, BO)
    assert len(due(shop)) == 1


def test_what_is_kept_is_what_would_be_reckoned_anew(shop):
    """Readings after the reckoning, and a room that becomes another, must not leave old days standing."""
    records, before = {}, ()
    for number, (percent, mm) in enumerate([(35.0, 0.20), (60.0, 0.40), (33.0, 0.19), (61.0, 0.42)]):
        stamp = later(days=180 * number)
        record = records.get("Rook") or add_instrument(
            shop, ADA, usual_instrument(family("electric-guitar"), "Rook")
        )
        records["Rook"] = record
        visit = open_visit(shop, stamp, record, humidity_percent=percent)
        due(shop)  # so that what follows finds something kept
        take_reading(shop, visit.id, GAP | {"fret": 8, "held": [1, 17], "mm": mm}, stamp)
        move_visit(shop, visit, "handed back", stamp)
        kept = due(shop)
        with shop.writing() as connection:
            reckon_everything_again(connection)
        assert kept == due(shop)
        assert kept != before
        before = kept
    assert {one.what for one in kept} == {"relief", "a check"}


def test_the_day_is_shown_although_nothing_can_be_written(shop, monkeypatch):
    from breakangle.services.history import drift

    visit = taken_in(shop, "Rook")

    def full(*_: object) -> None:
        raise ShopOutOfReachError("the disk is full")

    monkeypatch.setattr(drift, "keep_coming", full)
    move_visit(shop, visit, "handed back", ADA)
    found = today(shop, START)
    assert (len(found.work["handed back"]), found.all_reckoned) == (1, False)


def test_many_new_instruments_are_reckoned_a_few_at_a_time(shop):
    for number in range(RECKONED_AT_ONCE + 2):
        move_visit(shop, taken_in(shop, f"Rook {number}"), "handed back", ADA)
    looks = [today(shop, START + timedelta(days=365)) for _ in range(2)]
    assert [(len(one.due), one.all_reckoned) for one in looks] == [(3, False), (5, True)]


def test_many_who_look_at_one_moment_all_see_the_day(shop):
    for number in range(3):
        move_visit(shop, taken_in(shop, f"Rook {number}"), "handed back", ADA)

    def look(_: int) -> int:
        return len(today(shop, START + timedelta(days=365)).due)

    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(look, range(24))) == [3] * 24


def test_an_import_is_reckoned_too(new_shop, shop, tmp_path):
    move_visit(shop, taken_in(shop, "Rook"), "handed back", ADA)
    export_shop(shop, tmp_path / "all.zip")
    other = new_shop("other")
    import_shop(other, tmp_path / "all.zip")
    assert [one.on for one in due(other)] == [one.on for one in due(shop)]


def test_low_stock_and_the_last_backup(shop):
    taken_in(shop, "Rook")
    add_stock(shop, ADA, "plain steel set, light", 1, 2)
    add_stock(shop, ADA, "nut blank, bone", 2, 2)
    assert today(shop, NOW).last_backup_at is None
    make_backup(shop, START)
    found = today(shop, NOW)
    assert [one.words for one in found.to_order] == ["plain steel set, light"]
    assert found.last_backup_at == START


@pytest.fixture(scope="module")
def example(tmp_path_factory):
    folder = tmp_path_factory.mktemp("example")
    shop = shop_at(load_example(folder, NOW))
    export_shop(shop, folder / "example.zip")
    shop.close()
    return folder / "example.zip"


def test_ten_example_workshops_take_no_more_statements_than_one(new_shop, example):
    """What the day's list asks must not grow with the shop; how long it takes, `python -m bench records` says."""
    shop = new_shop("large")
    import_shop(shop, example)
    assert reckon(shop)
    small, sent_small = sent_by(shop, lambda: today(shop, NOW))
    instruments = len(shop.every(InstrumentRecord))
    copy_times(shop, TIMES)
    assert reckon(shop)
    large, sent_large = sent_by(shop, lambda: today(shop, NOW))
    assert {state: len(works) for state, works in large.work.items()} == {
        state: TIMES * len(works) for state, works in small.work.items()
    }
    assert sum(map(len, small.work.values())) > 0
    assert len(large.due) == min(MOST_DUE, TIMES * len(small.due)) > 0
    assert large.all_reckoned
    assert len(shop.every(InstrumentRecord)) == TIMES * instruments
    assert [statement for statement, _ in sent_large] == [statement for statement, _ in sent_small]
    if shop.engine.dialect.name == "sqlite":
        assert scans(shop, sent_large) == SCANS
