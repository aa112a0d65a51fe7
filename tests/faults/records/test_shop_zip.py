"""Zips made to harm are refused with one sentence and nothing stored; large ones are read in little memory."""

import hashlib
import json
import struct
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.services.visits.entries import correct, take_reading, undo
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.prices import add_price
from breakangle.storage.exchange import export_zip
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import Owner, Visit
from shop_fixtures.filled import fill
from shop_fixtures.many import fill_many
from shop_fixtures.people import ADA, BO, GAP

pytest_plugins = ["shop_fixtures.shops"]


def parts_of(shop, folder: Path) -> dict[str, bytes]:
    """Fill the shop, and return the files of its export by name."""
    fill(shop)
    add_price(shop, ADA, "labour", "set-up", "65")
    export_shop(shop, folder / "all.zip")
    with zipfile.ZipFile(folder / "all.zip") as zipped:
        return {name: zipped.read(name) for name in zipped.namelist()}


@pytest.fixture(scope="module")
def parts_made() -> dict[str, dict[str, bytes]]:
    """Return what `parts` has made so far, by engine."""
    return {}


@pytest.fixture
def parts(request, new_shop, parts_made, tmp_path) -> dict[str, bytes]:
    """Return the files of an export by name; made once on each engine, for all tests that only read them."""
    engine = request.node.callspec.params["new_shop"]
    if engine not in parts_made:
        parts_made[engine] = parts_of(new_shop("filled"), tmp_path)
    return dict(parts_made[engine])


def made(path: Path, parts: dict[str, bytes], how: int = zipfile.ZIP_DEFLATED) -> Path:
    """Return a zip of these files whose manifest has their hashes right."""
    told = json.loads(parts["manifest.json"])
    for name in told["sha256"]:
        if name in parts:
            told["sha256"][name] = hashlib.sha256(parts[name]).hexdigest()
    with zipfile.ZipFile(path, "w", how) as out:
        for name, content in (parts | {"manifest.json": json.dumps(told).encode()}).items():
            out.writestr(name, content, zipfile.ZIP_STORED if name.startswith("blobs/") else how)
    return path


def refused(shop, path: Path, said: str) -> None:
    with pytest.raises(ChooseAnotherFileError, match=said) as told:
        import_shop(shop, path)
    assert "\n" not in str(told.value)
    assert shop.every(Owner) == ()
    assert shop.every(Visit) == ()


def test_files_that_were_told_right_are_read(new_shop, parts, tmp_path):
    """So that what the tests below refuse is refused for its own sake."""
    other = new_shop("other")
    import_shop(other, made(tmp_path / "made.zip", parts))
    assert len(other.every(Visit)) == 2


def test_what_unpacks_a_thousandfold_is_refused_before_it_is_unpacked(new_shop, parts, tmp_path):
    other = new_shop("other")
    refused(
        other, made(tmp_path / "a.zip", parts | {"owner.jsonl": b" " * 50_000_000}), "in a way no export does"
    )
    refused(other, made(tmp_path / "b.zip", parts | {"stray": b"0" * 50_000_000}), "nothing was unpacked")
    blob = next(name for name in parts if name.startswith("blobs/"))
    path = made(tmp_path / "c.zip", parts)
    with zipfile.ZipFile(path, "a") as out:
        out.writestr(f"{blob}0", b"0" * 3_000_000, zipfile.ZIP_DEFLATED)
    refused(other, path, "nothing was unpacked")


def test_too_many_files_and_files_that_overlap_are_refused(new_shop, parts, tmp_path, monkeypatch):
    other = new_shop("other")
    monkeypatch.setattr(export_zip, "MOST_FILES", 20)
    many = parts | {f"stray{number}": b"" for number in range(20)}
    refused(other, made(tmp_path / "many.zip", many), "nothing was unpacked")
    monkeypatch.undo()
    # Each entry of the list at the end is told to begin at the largest file: the same bytes unpacked again and again.
    content = bytearray(
        made(tmp_path / "over.zip", parts | {"stray": bytes(range(256)) * 4000}, 0).read_bytes()
    )
    with zipfile.ZipFile(tmp_path / "over.zip") as zipped:
        large = max(zipped.infolist(), key=lambda one: one.compress_size)
        place, sizes = zipped.start_dir, struct.pack("<2L", large.compress_size, large.file_size)
    while (place := content.find(b"PK\x01\x02", place)) >= 0:
        content[place + 20 : place + 28] = sizes
        content[place + 42 : place + 46] = struct.pack("<L", large.header_offset)
        place += 46
    (tmp_path / "over.zip").write_bytes(bytes(content))
    refused(other, tmp_path / "over.zip", "in a way no export does")


def line(parts: dict[str, bytes], table: str, at: int = 0, /, **changed: object) -> dict[str, bytes]:
    """Return the files with one row changed."""
    rows = [json.loads(one) for one in parts[f"{table}.jsonl"].splitlines()]
    rows[at] |= changed
    return parts | {f"{table}.jsonl": b"".join(json.dumps(row).encode() + b"\n" for row in rows)}


@pytest.mark.parametrize(
    "wrong",
    [
        lambda parts: line(parts, "visit", number="one"),
        lambda parts: line(parts, "visit", state="lost"),
        lambda parts: line(parts, "visit", instrument_id="nobody's"),
        lambda parts: line(parts, "visit", body=["a", "list"]),
        lambda parts: line(parts, "owner", name=None),
        lambda parts: line(parts, "owner", created_at="yesterday"),
        lambda parts: line(parts, "owner", created_at=7),
        lambda parts: line(parts, "owner", name="a\0b"),
        lambda parts: line(parts, "entry", body='"text"'),
        lambda parts: line(parts, "entry", body="{}"),
        lambda parts: line(parts, "entry", body="{"),
        lambda parts: line(parts, "entry", kind="guess"),
        lambda parts: line(parts, "entry", 1, supersedes="nothing", reason="because"),
        lambda parts: line(parts, "entry", 1, place=1),
        lambda parts: line(parts, "change", version={"a": 1}),
        lambda parts: line(parts, "price", amount="dear"),
        lambda parts: line(parts, "visit", humidity_percent="damp"),
        lambda parts: line(parts, "visit", humidity_percent=True),
        lambda parts: parts | {"owner.jsonl": parts["owner.jsonl"] * 2},
        lambda parts: parts | {"owner.jsonl": b"[" * 100_000 + b"\n"},
        lambda parts: parts | {"owner.jsonl": b"[]\n"},
        lambda parts: parts | {"owner.jsonl": b"\xff\xfe\n"},
        lambda parts: parts | {"owner.jsonl": b'{"id": "x"}\n'},
        lambda parts: {name: content for name, content in parts.items() if name != "visit.jsonl"},
    ],
)  # fmt: skip
def test_rows_that_contradict_the_tables_or_each_other_are_refused_whole(new_shop, parts, tmp_path, wrong):
    refused(new_shop("other"), made(tmp_path / "made.zip", wrong(parts)), "whole-shop export|of this export")


def test_entries_are_read_whatever_their_order(new_shop, shop, tmp_path):
    """Two benches' clocks differ: what supersedes may sort before what it supersedes, by far."""
    parts = parts_of(shop, tmp_path)
    visit = shop.every(Visit)[0]
    for _ in range(3):
        entry = take_reading(shop, visit.id, GAP, ADA)
        undo(shop, correct(shop, entry.id, GAP | {"mm": 1.1}, "misread", BO).id, ADA)
    export_shop(shop, tmp_path / "all.zip")
    with zipfile.ZipFile(tmp_path / "all.zip") as zipped:
        entries = zipped.read("entry.jsonl").splitlines(keepends=True)
    told = json.loads(parts["manifest.json"])
    told["counts"]["entry"] = len(entries)
    turned = parts | {"entry.jsonl": b"".join(reversed(entries)), "manifest.json": json.dumps(told).encode()}
    other = new_shop("other")
    path = made(tmp_path / "turned.zip", turned)
    assert import_shop(other, path).kept == []
    assert entries_of(other, visit.id) == entries_of(shop, visit.id)
    assert import_shop(other, path).added_count == 0


IMPORT = """
import sys
from pathlib import Path
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.exchange.exchange import import_shop
shop = shop_at(Path(sys.argv[1]))
done = import_shop(shop, Path(sys.argv[2]))
# Not ru_maxrss, which a new process takes over from the one that made it.
most = next(int(line.split()[1]) for line in open('/proc/self/status') if line.startswith('VmHWM'))
print(done.added_count, most)
"""


def most_memory_mb(folder: Path, path: Path) -> tuple[int, float]:
    """Return how many rows came in, and the most memory the import had, in a process of its own."""
    words = [sys.executable, "-c", IMPORT, str(folder), str(path)]
    said = subprocess.run(words, check=True, capture_output=True, text=True).stdout.split()
    return int(said[0]), int(said[1]) / 1024


def test_a_large_import_needs_little_more_memory_than_a_small_one(tmp_path):
    """The benchmark `records` does the same with a gigabyte."""
    found = []
    for readings in (1_000, 60_000):
        shop = shop_at(tmp_path / f"from{readings}")
        fill_many(shop, readings)
        export_shop(shop, tmp_path / f"{readings}.zip")
        shop.close()
        found.append(most_memory_mb(tmp_path / f"to{readings}", tmp_path / f"{readings}.zip"))
    with zipfile.ZipFile(tmp_path / "60000.zip") as zipped:
        unpacked_mb = sum(one.file_size for one in zipped.infolist()) / 1e6
    assert found[1][0] == 60_000 + 3_000 + 300
    assert unpacked_mb > 20
    assert found[1][1] - found[0][1] < 10
