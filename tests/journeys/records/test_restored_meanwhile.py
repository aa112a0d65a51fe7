"""A backup put back while others write: what was acknowledged is in the new shop or in the replaced one."""

import sqlite3
import threading
from contextlib import closing, suppress

import pytest

from breakangle.services.records.upkeep import restore_named
from breakangle.services.visits.entries import take_reading
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup import restoring
from breakangle.storage.backup.copies import copy_records, make_backup, whole_from
from breakangle.storage.backup.restoring import restore_backup, restore_on_server
from breakangle.storage.exchange.exchange import reading_zip
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import Visit
from breakangle.storage.schema.errors import ShopMovedError, ShopOutOfReachError
from breakangle.web.workshops import Workshop
from shop_fixtures.filled import fill
from shop_fixtures.people import ADA, BO, GAP, START, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def filled(shop):
    fill(shop)
    return shop


def put_back(shop, backup):
    """Put a backup in the place of a shop that stays open, and return where the replaced lies."""
    return (restore_backup if shop.is_file else restore_on_server)(
        shop.folder if shop.is_file else shop, backup, later(days=1).at
    )


def replaced_ids(old) -> set[str]:
    """Return the entries that the replaced shop holds."""
    if (old / "shop.db").exists():
        with closing(sqlite3.connect(old / "shop.db")) as connection:
            return {row[0] for row in connection.execute("SELECT id FROM entry")}
    with reading_zip(old / "shop.zip") as zipped:
        return {str(row["id"]) for row in zipped.rows("entry")}


def stored_ids(shop, visit_id: str) -> set[str]:
    """Return the entries of a visit as somebody sees them who opens the shop now."""
    fresh = shop_at(shop.folder, None if shop.is_file else shop.place)
    found = {one.id for one in entries_of(fresh, visit_id)}
    fresh.close()
    return found


class Bench(threading.Thread):
    """Somebody who takes readings from the start until told to stop, or one only; keeps what was acknowledged."""

    def __init__(self, shop_of, visit_id: str, once: bool = False) -> None:
        super().__init__()
        self.shop_of, self.visit_id, self.ended = shop_of, visit_id, threading.Event()
        self.acknowledged: list[str] = []
        if once:
            self.ended.set()

    def run(self) -> None:
        while True:
            with suppress(ShopOutOfReachError):
                self.acknowledged.append(take_reading(self.shop_of(), self.visit_id, GAP, BO).id)
            if self.ended.is_set():
                return


def test_a_reading_between_the_copy_and_the_swap_is_not_lost(filled, monkeypatch):
    made, visit = make_backup(filled, START), filled.every(Visit)[0]
    benches: list[Bench] = []

    def slow(*given: object) -> None:
        benches.append(Bench(lambda: filled, visit.id, once=True))
        benches[-1].start()
        benches[-1].join(0.5)  # a server's tables are held by now
        whole_from(*given)

    monkeypatch.setattr(restoring, "whole_from", slow)
    old = put_back(filled, made.path)
    for one in benches:
        one.join()
    acknowledged = {key for one in benches for key in one.acknowledged}
    assert len(acknowledged) == made.blobs
    assert acknowledged <= replaced_ids(old) | stored_ids(filled, visit.id)


def test_a_reading_after_the_copy_waits_and_is_in_the_new_shop(tmp_path, monkeypatch):
    shop = shop_at(tmp_path / "shop")
    visit = fill(shop)
    made = make_backup(shop, START)
    bench = Bench(lambda: shop, visit.id, once=True)

    def slow(*given: object) -> None:
        copy_records(*given)
        bench.start()
        bench.join(0.5)
        assert bench.is_alive()

    monkeypatch.setattr(restoring, "copy_records", slow)
    old = restore_backup(shop.folder, made.path, later(days=1).at)
    bench.join()
    assert len(bench.acknowledged) == 1
    assert set(bench.acknowledged) <= stored_ids(shop, visit.id) - replaced_ids(old)
    shop.close()


def test_who_has_the_shop_open_goes_on_with_what_was_put_back(filled):
    made, visit = make_backup(filled, START), filled.every(Visit)[0]
    before = take_reading(filled, visit.id, GAP, BO)
    old = put_back(filled, made.path)
    after = take_reading(filled, visit.id, GAP | {"mm": 1.9}, BO)
    kept = stored_ids(filled, visit.id)
    assert (before.id in kept, after.id in kept) == (False, True)
    assert before.id in replaced_ids(old)


def test_benches_that_write_all_the_while_lose_nothing(tmp_path):
    own = Workshop(tmp_path / "shop")
    visit = fill(own.shop())
    name = make_backup(own.shop(), START).path.name
    benches, olds = [Bench(own.shop, visit.id) for _ in range(3)], []
    for one in benches:
        one.start()
    for at in (later(days=1).at, later(days=2).at):
        own.replaced(lambda at=at: olds.append(restore_named(own.folder, name, at)))
    for one in benches:
        one.ended.set()
        one.join()
    acknowledged = {key for one in benches for key in one.acknowledged}
    kept = {one.id for one in entries_of(own.shop(), visit.id)}
    own.close()
    assert len(acknowledged) > len(benches)
    assert acknowledged <= kept.union(*map(replaced_ids, olds))


def test_a_shop_that_another_program_holds_stays_as_it_was(tmp_path, monkeypatch):
    shop = shop_at(tmp_path / "shop")
    visit = fill(shop)
    made = make_backup(shop, START)
    taken = take_reading(shop, visit.id, GAP, ADA)
    monkeypatch.setattr(restoring, "PRAGMAS", ("PRAGMA busy_timeout=50",))
    with shop.writing(), pytest.raises(ShopOutOfReachError, match="another program holds"):
        restore_backup(shop.folder, made.path, later(days=1).at)
    assert taken in entries_of(shop, visit.id)
    assert not list((shop.folder / "replaced").iterdir())
    assert not (shop.folder / ".restored").exists()
    shop.close()


def test_what_is_still_written_to_a_damaged_file_is_in_the_replaced_one(tmp_path):
    shop = shop_at(tmp_path / "shop")
    fill(shop)
    made = make_backup(shop, START)
    shop.close()
    (shop.folder / "shop.db").write_bytes(b"\xa5" * 20_000)
    with (shop.folder / "shop.db").open("r+b", buffering=0) as held:
        old = restore_backup(shop.folder, made.path, later(days=1).at)
        held.write(b"written by one who has it open")
    assert (old / "shop.db").read_bytes().startswith(b"written by one who has it open")
    with pytest.raises(ShopMovedError, match="another file lies in the place"):  # until it is opened again
        shop.every(Visit)
    again = shop_at(shop.folder)
    assert len(again.every(Visit)) == 2
    again.close()


def test_a_file_of_other_pages_is_replaced_as_a_damaged_one_is(tmp_path):
    shop = shop_at(tmp_path / "shop")
    fill(shop)
    made = make_backup(shop, START)
    shop.close()
    (shop.folder / "shop.db").unlink()
    with closing(sqlite3.connect(shop.folder / "shop.db")) as other:
        other.execute("PRAGMA page_size=8192")
        other.execute("CREATE TABLE other (one)")
    restore_backup(shop.folder, made.path, later(days=1).at)
    again = shop_at(shop.folder)
    assert len(again.every(Visit)) == 2
    again.close()


def test_who_asks_while_a_shop_is_put_in_place_is_told_to_try_again(tmp_path, monkeypatch):
    monkeypatch.setattr("breakangle.web.workshops.LONGEST_WAIT_S", 0.05)
    own = Workshop(tmp_path / "shop")

    def asked() -> None:
        with pytest.raises(ShopOutOfReachError, match="try again in a moment"):
            own.shop()

    own.replaced(asked)
    assert own.shop().every(Visit) == ()
    own.close()
