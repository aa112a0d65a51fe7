"""A disk that is full to the last byte: one sentence, nothing lost, and all is well when there is room again."""

import os
import shutil

import pytest

from breakangle.services.overview.today import today
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import do_adjustment, service_of, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.attachments import attach, content_of
from breakangle.services.workshop.opening import backed_up, shop_at
from breakangle.storage.backup.copies import make_backup, verified
from breakangle.storage.backup.examine import examine
from breakangle.storage.backup.restoring import restore_backup
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.files.backup_listing import BACKUPS, backups
from breakangle.storage.files.blobs import unfinished_files
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import Attachment
from breakangle.storage.schema.errors import ShopOutOfReachError
from shop_fixtures.filled import fill
from shop_fixtures.killing import sound
from shop_fixtures.people import ADA, BO, GAP, ROD, START, later
from shop_fixtures.server import Server, server_or_skip
from shop_fixtures.small_disk import mounted

FULL = "full|no space left"
RECORDING = b"RIFF" + os.urandom(200_000)


@pytest.fixture
def disk(capsys):
    with mounted(12, capsys) as made:
        yield made


def refused(todo, said: str = FULL) -> None:
    with pytest.raises(ShopOutOfReachError, match=said) as told:
        todo()
    assert "\n" not in str(told.value)
    assert str(told.value).endswith(".")


def taken_until_full(shop, visit: str, said: str = FULL) -> list[str]:
    """Take readings until one is refused, and return the names of those that were acknowledged."""
    taken: list[str] = []

    def for_ever() -> None:
        for count in range(5_000):
            taken.extend(
                [take_reading(shop, visit, GAP | {"mm": 1 + count / 10_000}, later(minutes=count)).id]
            )

    refused(for_ever, said)
    return taken


def test_readings_on_a_full_disk_are_refused_and_none_before_is_lost(disk):
    shop = shop_at(disk.folder / "shop")
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit.id
    before = [one.id for one in entries_of(shop, visit)]
    disk.fill()
    taken = taken_until_full(shop, visit)
    refused(lambda: do_adjustment(shop, visit, ROD, ADA))
    assert [one.id for one in entries_of(shop, visit)] == before + taken
    assert len(today(shop, START).work["waiting"]) == 1  # looking goes on
    disk.make_room()
    taken.append(take_reading(shop, visit, GAP, BO).id)
    assert [one.id for one in entries_of(shop, visit)] == before + taken
    assert len(service_of(shop, visit).readings) == len(before + taken)
    assert sound(shop)
    shop.close()


def test_a_program_killed_on_a_full_disk_finds_everything_when_there_is_room(disk, tmp_path):
    """Opened again while the disk is still full, too: that is refused or goes, and harms nothing."""
    shop = shop_at(disk.folder / "shop")
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit.id
    disk.fill()
    taken = taken_until_full(shop, visit)
    aside = tmp_path / "killed"  # what a process killed now would leave: the file and its log
    shutil.copytree(disk.folder / "shop", aside)
    shop.close()
    try:
        again = shop_at(disk.folder / "shop")
        assert {one.id for one in entries_of(again, visit)} >= set(taken)
        again.close()
    except ShopOutOfReachError as told:
        assert "the disk is full" in str(told)
    disk.make_room()
    for folder in (disk.folder / "shop", aside):
        again = shop_at(folder)
        assert {one.id for one in entries_of(again, visit)} >= set(taken)
        assert sound(again)
        again.close()


def test_recordings_backups_exports_and_imports_leave_nothing_behind(disk, tmp_path):
    shop, other = shop_at(disk.folder / "shop"), shop_at(tmp_path / "elsewhere")
    visit = fill(shop)
    attach(other, ADA, fill(other), "recording", "large.wav", RECORDING)
    export_shop(other, tmp_path / "all.zip")
    names = [one.hash for one in shop.every(Attachment)]
    disk.fill()
    refused(lambda: attach(shop, ADA, visit, "recording", "low e.wav", RECORDING))
    refused(lambda: make_backup(shop, START))
    refused(lambda: export_shop(shop, disk.folder / "all.zip"))
    refused(lambda: import_shop(shop, tmp_path / "all.zip"))
    assert "was not made" in backed_up(shop, START)
    assert backups(shop.folder / BACKUPS) == []
    assert unfinished_files(disk.folder) == []
    assert sorted(one.name for one in disk.folder.iterdir()) == ["ballast", "shop"]
    assert any("MB of the disk are free" in one.what for one in examine(shop, START) if not one.well)
    assert [one.hash for one in shop.every(Attachment)] == names
    disk.make_room()
    stored = attach(shop, ADA, visit, "recording", "low e.wav", RECORDING)
    assert content_of(shop, stored) == RECORDING
    assert import_shop(shop, tmp_path / "all.zip").added_count > 0
    assert verified(make_backup(shop, START).path).counts["visit"] > 2
    for one in (shop, other):
        one.close()


def test_a_restore_on_a_full_disk_leaves_the_shop_as_it_was(disk, tmp_path):
    shop = shop_at(disk.folder / "shop")
    visit = fill(shop)
    made = make_backup(shop, START, tmp_path / "backups")
    taken = take_reading(shop, visit.id, GAP, ADA)
    shop.close()
    disk.fill()
    refused(lambda: restore_backup(shop.folder, made.path, later(days=1).at))
    disk.make_room()
    assert taken in entries_of(shop, visit.id)
    shop.close()
    restore_backup(shop.folder, made.path, later(days=2).at)
    assert taken not in entries_of(shop, visit.id)
    shop.close()


def test_no_room_for_a_new_shop_is_said_and_it_is_made_when_there_is(disk):
    disk.fill()
    refused(lambda: shop_at(disk.folder / "shop"))
    disk.make_room()
    shop = shop_at(disk.folder / "shop")
    assert fill(shop).number == 1
    shop.close()


def test_a_server_whose_disk_is_full_refuses_and_loses_nothing(tmp_path, capsys):
    """Whether it says so or gives up altogether: then it is started again when there is room."""
    with mounted(160, capsys) as disk:
        server: Server = server_or_skip(careful=True, under=disk.folder)
        try:
            shop = shop_at(tmp_path, server.new_database())
            visit = bring_in(shop, example_text().encode(), "a file", ADA).visit.id
            before = [one.id for one in entries_of(shop, visit)]
            disk.fill()
            taken = taken_until_full(shop, visit, f"{FULL}|cannot be reached")
            disk.make_room()
            server.start_again()
            assert [one.id for one in entries_of(shop, visit)] == before + taken
            assert take_reading(shop, visit, GAP, BO).place == len(before + taken) + 1
            assert sound(shop)
            shop.close()
        finally:
            server.remove()
