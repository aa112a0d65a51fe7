"""Photographs, backups and restoring, and the doctor."""

import threading
from datetime import timedelta
from io import BytesIO

import pytest
from PIL import Image

from breakangle.desk.shop_attachments import attach, content_of, small_picture
from breakangle.desk.shop_open import shop_at
from breakangle.desk.shop_readings import take_reading
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.shop.backup import (
    backups,
    daily_backup,
    make_backup,
    records_counted,
    restore_backup,
    verified,
)
from breakangle.shop.blobs import blob_path
from breakangle.shop.entries import entries_of
from breakangle.shop.errors import ShopDamagedError
from breakangle.shop.examine import examine
from breakangle.shop.records import Attachment, Visit
from shop_fixtures.filled import fill, picture
from shop_fixtures.people import ADA, BO, GAP, START, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def filled(tmp_path):
    shop = shop_at(tmp_path / "shop")
    fill(shop)
    yield shop
    shop.close()


def test_photographs_come_back_and_come_small(shop):
    visit = fill(shop)
    photograph, recording = shop.every(Attachment, visit_id=visit.id)
    assert content_of(shop, photograph) == picture()
    assert content_of(shop, recording).startswith(b"RIFF")
    with Image.open(BytesIO(small_picture(shop, photograph))) as small:
        assert (small.format, small.size) == ("JPEG", (320, 200))
    for kind, name, content in (
        ("photograph", "notes.txt", b"text"),
        ("photograph", "broken.png", b"\x89PNG\r\n\x1a\nnothing"),
        ("recording", "empty.wav", b""),
    ):
        with pytest.raises(ChooseAnotherFileError):
            attach(shop, ADA, visit, kind, name, content)
    assert len(shop.every(Attachment)) == 2


def test_a_backup_is_restored_into_the_place_of_what_is_there(filled):
    made = make_backup(filled, START)
    assert made.counts == records_counted(filled)
    assert made.blobs == 2
    fresh = filled.every(Visit)[0]
    filled.change(fresh, BO, notes="written after the backup")
    filled.close()
    old = restore_backup(filled.folder, made.path, later(days=1).at)
    again = shop_at(filled.folder)
    assert records_counted(again) == made.counts
    assert again.get(Visit, fresh.id).notes == ""
    assert all(one.well for one in examine(again, later(minutes=1).at) if "free" not in one.what)
    assert (old / "shop.db").exists()
    again.close()


def test_a_damaged_backup_is_refused_and_the_shop_stays(filled):
    made = make_backup(filled, START)
    content = bytearray((made.path / "shop.db").read_bytes())
    content[5000] ^= 0xFF
    (made.path / "shop.db").write_bytes(bytes(content))
    before = records_counted(filled)
    filled.close()
    with pytest.raises(ShopDamagedError, match="backup 2027-01-11T090000Z is damaged; use another"):
        restore_backup(filled.folder, made.path, later(days=1).at)
    assert records_counted(filled) == before
    with pytest.raises(ChooseAnotherFileError, match="is no backup"):
        verified(filled.folder)


def test_no_backup_is_called_done_when_a_recording_is_damaged(filled):
    recording = filled.every(Attachment)[1]
    blob_path(filled.folder, recording.hash).write_bytes(b"other")
    with pytest.raises(ShopDamagedError):
        make_backup(filled, START)
    assert backups(filled) == []
    assert any(
        "low e.wav" in one.what and "backup" in one.mend for one in examine(filled, START) if not one.well
    )


def test_a_backup_made_while_others_write_is_one_moment(filled):
    visit, stop, taken = filled.every(Visit)[0], threading.Event(), []

    def write() -> None:
        while not stop.is_set():
            taken.append(take_reading(filled, visit.id, GAP, ADA))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        made = [make_backup(filled, later(minutes=one).at) for one in range(5)]
    finally:
        stop.set()
        writer.join()
    counts = [one.counts["entry"] for one in made]
    assert counts == sorted(counts)
    assert counts[-1] > counts[0]
    for one in made:
        copy = shop_at(one.path)
        places = [entry.place for entry in entries_of(copy, visit.id) if entry.supersedes is None]
        assert places == list(range(1, len(places) + 1))
        copy.close()


def test_backups_are_daily_and_old_ones_go(filled):
    made = [daily_backup(filled, START + timedelta(hours=6 * one)) for one in range(4 * 60)]
    assert sum(one is not None for one in made) == 60
    kept = [at for at, _ in backups(filled)]
    days = [(kept[0] - at).days for at in kept]
    assert days[:7] == list(range(7))
    assert 10 <= len(kept) <= 7 + 5 + 12
    assert kept[0] - kept[-1] > timedelta(days=25)


def test_a_damaged_shop_is_restored_and_kept_aside_as_it_was(filled):
    made = make_backup(filled, START)
    counts, recording = records_counted(filled), filled.every(Attachment)[1]
    filled.close()
    noise = b"\xa5" * 20_000
    (filled.folder / "shop.db").write_bytes(noise)
    blob_path(filled.folder, recording.hash).write_bytes(b"other")
    old = restore_backup(filled.folder, made.path, later(days=1).at)
    again = shop_at(filled.folder)
    assert records_counted(again) == counts
    assert content_of(again, recording).startswith(b"RIFF")
    assert (old / "shop.db").read_bytes() == noise
    again.close()


def test_a_later_backup_shares_files_with_the_one_before_and_never_with_the_shop(filled):
    recording = filled.every(Attachment)[1]
    first, second = (make_backup(filled, later(days=one).at) for one in (0, 1))
    own, one, two = (blob_path(place, recording.hash) for place in (filled.folder, first.path, second.path))
    assert one.samefile(two)
    assert not own.samefile(one)
    own.write_bytes(b"other")
    assert verified(first.path).blobs == 2
