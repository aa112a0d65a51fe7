"""Photographs, backups and restoring, and the doctor."""

import json
import os
import threading
from datetime import timedelta
from io import BytesIO

import pytest
from PIL import Image
from sqlalchemy import func, select

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.services.visits.entries import take_reading
from breakangle.services.visits.visits import open_visit
from breakangle.services.workshop.attachments import attach, content_of, small_picture
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.copies import make_backup, verified
from breakangle.storage.backup.examine import examine, mend
from breakangle.storage.backup.keeper import kept_in_time
from breakangle.storage.backup.restoring import restore_backup, restore_on_server
from breakangle.storage.exchange.exchange import ORDER, export_shop
from breakangle.storage.files.backup_listing import BACKUPS, backups
from breakangle.storage.files.blobs import blob_path, unfinished_files
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import Attachment, InstrumentRecord, Visit
from breakangle.storage.schema.errors import ShopDamagedError
from breakangle.storage.schema.tables import ENTRY, METADATA, VISIT
from breakangle.storage.search.search import search
from shop_fixtures.filled import fill, picture
from shop_fixtures.people import ADA, BO, GAP, START, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def filled(shop):
    fill(shop)
    return shop


def restored(shop, backup, at):
    """Put a backup in the shop's place and return where the replaced lies, as the verb does for its engine."""
    if not shop.is_file:
        return restore_on_server(shop, backup, at)
    shop.close()
    return restore_backup(shop.folder, backup, at)


def records_counted(shop) -> dict[str, int]:
    """Return how many rows each table of the shop holds now."""
    with shop.reading() as connection:
        return {
            name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for name, table in METADATA.tables.items()
        }


def told(shop) -> dict[str, int]:
    """Return how many rows there are of what people wrote."""
    return {name: count for name, count in records_counted(shop).items() if name in ORDER}


def export_text(shop, path) -> bytes:
    export_shop(shop, path)
    return path.read_bytes()


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


def test_a_backup_is_restored_into_the_place_of_what_is_there(filled, tmp_path):
    made = make_backup(filled, START)
    whole, before = export_text(filled, tmp_path / "before.zip"), told(filled)
    assert {name: made.counts[name] for name in ORDER} == before
    assert made.blobs == 2
    fresh = filled.every(Visit)[0]
    filled.change(fresh, BO, notes="written after the backup")
    taken = take_reading(filled, fresh.id, GAP, BO)
    old = restored(filled, made.path, later(days=1).at)
    assert told(filled) == before
    assert filled.get(Visit, fresh.id).notes == ""
    assert taken not in entries_of(filled, fresh.id)
    assert export_text(filled, tmp_path / "after.zip") == whole
    assert all(one.well for one in examine(filled, later(minutes=1).at) if "free" not in one.what)
    assert open_visit(filled, later(days=2), filled.every(InstrumentRecord)[0]).number == 3
    with filled.reading() as connection:
        assert [one.record_table for one in search(connection, "ase")] == ["owner"]
    # What was replaced can be put back in its turn.
    if not filled.is_file:
        restored(filled, old, later(days=3).at)
        assert filled.get(Visit, fresh.id).notes == "written after the backup"
        assert taken in entries_of(filled, fresh.id)
    else:
        assert (old / "shop.db").exists()


def test_others_see_a_restored_server_whole_or_not_at_all(server, migrated, tmp_path):
    shop = shop_at(tmp_path, server.new_database(migrated))
    fill(shop)
    made = make_backup(shop, START)
    stop, seen = threading.Event(), set()

    def look() -> None:
        other = shop_at(tmp_path, shop.place)
        while not stop.is_set():
            with other.snapshot() as connection:
                visits, entries = (
                    connection.execute(select(func.count()).select_from(table)).scalar_one()
                    for table in (VISIT, ENTRY)
                )
            seen.add((visits, entries))
        other.close()

    watcher = threading.Thread(target=look)
    watcher.start()
    try:
        for day in range(1, 4):
            restore_on_server(shop, made.path, later(days=day).at)
    finally:
        stop.set()
        watcher.join()
    assert seen == {(made.counts["visit"], made.counts["entry"])}
    shop.close()


@pytest.mark.parametrize("to", ["sqlite", "postgresql"])
def test_a_backup_of_either_engine_is_restored_on_either(filled, to, tmp_path, request):
    whole = export_text(filled, tmp_path / "before.zip")
    made = make_backup(filled, START)
    url = None
    if to == "postgresql":
        url = request.getfixturevalue("server").new_database(request.getfixturevalue("migrated"))
    other = shop_at(tmp_path / "other", url)
    fill(other)
    restored(other, made.path, later(days=1).at)
    assert export_text(other, tmp_path / "after.zip") == whole
    other.close()


def test_a_damaged_backup_is_refused_and_the_shop_stays(filled):
    made = make_backup(filled, START)
    (records,) = (made.path / name for name in ("shop.db", "shop.zip") if (made.path / name).exists())
    content = bytearray(records.read_bytes())
    content[len(content) // 2] ^= 0xFF
    records.write_bytes(bytes(content))
    before = records_counted(filled)
    with pytest.raises(ShopDamagedError, match="backup 2027-01-11T090000Z is damaged; use another"):
        restored(filled, made.path, later(days=1).at)
    assert records_counted(filled) == before
    with pytest.raises(ChooseAnotherFileError, match="is no backup"):
        verified(filled.folder)


def test_a_backup_with_a_row_less_than_it_says_is_refused(filled):
    """Whole by its own hash, and still not what was written down when it was made."""
    made = make_backup(filled, START)
    manifest = json.loads((made.path / "backup.json").read_text(encoding="utf-8"))
    manifest["counts"]["entry"] += 1
    (made.path / "backup.json").write_text(json.dumps(manifest), encoding="utf-8")
    with pytest.raises(ShopDamagedError, match="is damaged"):
        verified(made.path)


def test_a_damaged_recording_stops_no_backup_and_is_named(filled):
    """The records are worth saving; what is missing is said by the backup and by the doctor, and never invented."""
    recording, photograph = filled.every(Attachment)[1], filled.every(Attachment)[0]
    blob_path(filled.folder, recording.hash).write_bytes(b"other")
    made = make_backup(filled, START)
    assert (made.missing, made.blobs) == ((recording.hash,), 1)
    assert verified(made.path) == made
    assert backups(filled.folder / BACKUPS)[0].missing == 1
    said = [f"{finding.what} {finding.mend}" for finding in examine(filled, START) if not finding.well]
    assert any("low e.wav" in words and "backup" in words for words in said)
    assert any("1 recordings or photographs are missing from it" in words for words in said)
    restored(filled, made.path, later(days=1).at)
    assert content_of(filled, photograph) == picture()


def test_a_recording_damaged_since_is_still_whole_in_the_next_backup(filled):
    recording = filled.every(Attachment)[1]
    make_backup(filled, START)
    blob_path(filled.folder, recording.hash).write_bytes(b"other")
    assert make_backup(filled, later(days=1).at).missing == ()


def test_a_backup_made_while_others_write_is_one_moment(filled, tmp_path):
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
    for number, one in enumerate(made):
        copy = shop_at(tmp_path / f"copy{number}")
        copy.close()
        restore_backup(copy.folder, one.path, later(days=1).at)
        places = [entry.place for entry in entries_of(copy, visit.id) if entry.supersedes is None]
        assert places == list(range(1, len(places) + 1))
        copy.close()


def test_backups_are_daily_and_old_ones_go(filled):
    made = [kept_in_time(filled, START + timedelta(hours=6 * step)) for step in range(4 * 60)]
    assert sum(backup is not None for backup in made) == 61  # the calendar days from nine in the morning on
    kept = [backup.made_at for backup in backups(filled.folder / BACKUPS)]
    days = [(kept[0] - at).days for at in kept]
    assert days[3:14] == list(range(3, 14))
    assert 16 <= len(kept) <= 14 + 5 + 12
    assert kept[0] - kept[-1] > timedelta(days=25)


def test_a_damaged_shop_is_restored_and_kept_aside_as_it_was(tmp_path):
    """Of a file; what a server does with its own disk is the server's."""
    filled = shop_at(tmp_path / "shop")
    fill(filled)
    made = make_backup(filled, START)
    counts, recording = records_counted(filled), filled.every(Attachment)[1]
    filled.close()
    noise = b"\xa5" * 20_000
    (filled.folder / "shop.db").write_bytes(noise)
    blob_path(filled.folder, recording.hash).write_bytes(b"other")
    old = restore_backup(filled.folder, made.path, later(days=1).at)
    again = shop_at(filled.folder)
    assert records_counted(again) == counts | {"counter": counts["counter"] + 1}  # of changes, begun anew
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


def test_a_damaged_recording_comes_back_with_the_backup(filled):
    made, recording = make_backup(filled, START), filled.every(Attachment)[1]
    blob_path(filled.folder, recording.hash).write_bytes(b"other")
    restored(filled, made.path, later(days=1).at)
    assert content_of(filled, recording).startswith(b"RIFF")


def test_what_an_interrupted_backup_left_is_swept_up_but_none_being_made(filled):
    left = filled.folder / "backups" / ".unfinished-2027-01-10T090000Z-abc"
    left.mkdir(parents=True)
    (left / "shop.db").write_bytes(b"half")
    assert unfinished_files(filled.folder) == []
    os.utime(left, (0, 0))
    assert any("half written" in one.what for one in examine(filled, START))
    assert mend(filled) == 1
    assert not left.exists()
