"""The whole shop in one zip, and a zip merged into a shop, on both engines."""

import hashlib
import json
import zipfile

import pytest

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.services.visits.entries import service_of, take_reading
from breakangle.services.visits.visits import open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.examine import examine
from breakangle.storage.exchange.exchange import ORDER, export_shop, import_shop
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import InstrumentRecord, Owner, Visit
from breakangle.storage.schema.tables import CHANGE, EDITED, ENTRY, PRIVATE
from breakangle.storage.search.search import search
from shop_fixtures.filled import fill
from shop_fixtures.people import ADA, BO, GAP, START, later

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture
def zipped(shop, tmp_path):
    fill(shop)
    export_shop(shop, tmp_path / "first.zip")
    return tmp_path / "first.zip"


def test_every_table_that_people_write_is_exported():
    assert set(ORDER) == {*EDITED, ENTRY.name, CHANGE.name} - set(PRIVATE)


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
