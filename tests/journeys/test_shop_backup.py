"""Backups and restoring, the doctor, and the whole-shop export and import."""

import hashlib
import json
import threading
import zipfile
from datetime import timedelta
from io import BytesIO

import pytest
from PIL import Image

from breakangle.desk.example import example_text
from breakangle.desk.shop_attachments import attach, content_of, small_picture
from breakangle.desk.shop_open import shop_at
from breakangle.desk.shop_readings import correct, do_adjustment, service_of, take_reading
from breakangle.desk.shop_service_files import bring_in
from breakangle.desk.shop_visits import add_owner, open_visit
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
from breakangle.shop.exchange import ORDER, export_shop, import_shop
from breakangle.shop.records import Attachment, InstrumentRecord, Owner, Visit
from breakangle.shop.search import search
from breakangle.shop.tables import CHANGE, EDITED, ENTRY
from shop_fixtures.people import ADA, BO, GAP, ROD, START, later

pytest_plugins = ["shop_fixtures.shops"]


def picture() -> bytes:
    out = BytesIO()
    Image.new("RGB", (800, 500), (120, 60, 20)).save(out, "PNG")
    return out.getvalue()


def fill(shop) -> Visit:
    """Put a little of everything into the shop."""
    owner = add_owner(shop, ADA, "Åse Holm", "ase@example.org")
    shop.change(owner, BO, notes="pays late")
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    entry = take_reading(shop, visit.id, GAP, ADA)
    correct(shop, entry.id, GAP | {"mm": 1.7}, "misread", BO)
    do_adjustment(shop, visit.id, ROD, BO)
    attach(shop, ADA, visit, "photograph", "front.png", picture())
    attach(shop, ADA, visit, "recording", "low e.wav", b"RIFF not much of a recording")
    open_visit(shop, later(days=90), shop.every(InstrumentRecord)[0], "buzzes")
    return visit


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


@pytest.fixture
def zipped(shop, tmp_path):
    fill(shop)
    export_shop(shop, tmp_path / "first.zip")
    return tmp_path / "first.zip"


def test_every_table_that_people_write_is_exported():
    assert set(ORDER) == {*EDITED, ENTRY.name, CHANGE.name}


def test_export_import_into_an_empty_shop_export_is_the_same_to_the_byte(new_shop, shop, zipped, tmp_path):
    other = new_shop("other")
    merged = import_shop(other, zipped)
    export_shop(other, tmp_path / "second.zip")
    assert (tmp_path / "second.zip").read_bytes() == zipped.read_bytes()
    assert (merged.updated_count, merged.kept, merged.renumbered) == (0, [], {})
    with other.reading() as connection:
        assert [one.record_table for one in search(connection, "ase")] == ["owner"]
    record = other.every(InstrumentRecord)[0]
    assert open_visit(other, later(days=99), record).number == len(shop.every(Visit)) + 1


def test_the_two_engines_export_the_same_bytes(server, migrated, tmp_path):
    file = shop_at(tmp_path / "file")
    fill(file)
    export_shop(file, tmp_path / "file.zip")
    other = shop_at(tmp_path / "server", server.new_database(migrated))
    import_shop(other, tmp_path / "file.zip")
    export_shop(other, tmp_path / "server.zip")
    assert (tmp_path / "file.zip").read_bytes() == (tmp_path / "server.zip").read_bytes()
    for one in (file, other):
        one.close()


def test_a_merge_doubles_nothing_and_overwrites_nothing_silently(new_shop, shop, zipped, tmp_path):
    assert import_shop(shop, zipped).added_count == 0
    other = new_shop("other")
    import_shop(other, zipped)
    here, there = shop.every(Owner)[0], other.every(Owner)[0]
    other.change(there, BO, notes="pays early")
    visit = other.every(Visit)[0]
    taken = take_reading(other, visit.id, GAP, later(days=1))
    export_shop(other, tmp_path / "other.zip")
    merged = import_shop(shop, tmp_path / "other.zip")
    assert (merged.updated_count, merged.kept) == (1, [])
    assert shop.get(Owner, here.id).notes == "pays early"
    assert taken in entries_of(shop, visit.id)
    shop.change(shop.get(Owner, here.id), ADA, notes="moved away")
    other.change(other.get(Owner, here.id), BO, notes="has a second bass")
    export_shop(other, tmp_path / "other.zip")
    merged = import_shop(shop, tmp_path / "other.zip")
    assert merged.kept == [f"owner {here.id}"]
    kept = shop.get(Owner, here.id)
    assert kept.notes == "moved away"
    assert shop.change(kept, ADA, notes="still editable").version == kept.version + 1


def test_two_readings_at_one_place_keep_ours_and_say_so(new_shop, shop, zipped, tmp_path):
    other = new_shop("other")
    import_shop(other, zipped)
    visit = shop.every(Visit)[0]
    ours = take_reading(shop, visit.id, GAP, ADA)
    theirs = take_reading(other, visit.id, GAP | {"mm": 2.0}, BO)
    export_shop(other, tmp_path / "other.zip")
    assert import_shop(shop, tmp_path / "other.zip").kept == [f"entry {theirs.id}"]
    assert ours in entries_of(shop, visit.id)
    assert service_of(shop, visit.id).readings[-1].mm == 1.8


def test_shops_of_different_origin_merge_with_numbers_without_gaps(new_shop, zipped):
    other = new_shop("other")
    visit = fill(other)
    merged = import_shop(other, zipped)
    assert merged.renumbered == {1: 3, 2: 4}
    assert sorted(one.number for one in other.every(Visit)) == [1, 2, 3, 4]
    assert other.get(Visit, visit.id).number == 1
    assert all(one.well for one in examine(other, START) if "numbered" in one.what)


def test_a_damaged_or_later_export_is_refused_whole(new_shop, zipped, tmp_path):
    other = new_shop("other")
    content = bytearray(zipped.read_bytes())
    content[len(content) // 2] ^= 0xFF
    (tmp_path / "damaged.zip").write_bytes(bytes(content))
    (tmp_path / "short.zip").write_bytes(zipped.read_bytes()[:-200])
    (tmp_path / "text.zip").write_text("no zip")
    later_format = tmp_path / "later.zip"
    with zipfile.ZipFile(later_format, "w") as out:
        out.writestr("manifest.json", json.dumps({"format": "breakangle/shop/9", "sha256": {}}))
    for name in ("damaged", "short", "text", "later", "absent"):
        with pytest.raises(ChooseAnotherFileError) as refused:
            import_shop(other, tmp_path / f"{name}.zip")
        assert "\n" not in str(refused.value)
    assert other.every(Owner) == ()
    assert other.every(Visit) == ()


def test_an_export_of_another_version_is_read(new_shop, zipped, tmp_path):
    """One that has a column more, and one less that may be empty."""
    changed: dict[str, bytes] = {}
    with zipfile.ZipFile(zipped) as old:
        for name in old.namelist():
            changed[name] = old.read(name)
    rows = [json.loads(line) for line in changed["owner.jsonl"].splitlines()]
    for row in rows:
        row["colour"] = "blue"
        del row["deleted_at"]
    changed["owner.jsonl"] = b"".join(json.dumps(row).encode() + b"\n" for row in rows)
    manifest = json.loads(changed["manifest.json"])
    manifest["sha256"]["owner.jsonl"] = hashlib.sha256(changed["owner.jsonl"]).hexdigest()
    changed["manifest.json"] = json.dumps(manifest).encode()
    with zipfile.ZipFile(tmp_path / "changed.zip", "w") as new:
        for name, content in changed.items():
            new.writestr(name, content)
    other = new_shop("other")
    import_shop(other, tmp_path / "changed.zip")
    (owner,) = other.every(Owner)
    assert (owner.name, owner.deleted_at) == ("Åse Holm", None)


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
