"""A person erased: in no file of the data folder read as raw bytes; the sheets stay, without the person, and say so."""

import hashlib
import json
import re
import zlib
from datetime import UTC, datetime

import psycopg
import pytest
from sqlalchemy import select, update
from sqlalchemy.exc import DBAPIError

from breakangle.model.errors import CorrectInputError
from breakangle.services.documents.hand_back.close import Closes, close_visit, gate_of
from breakangle.services.documents.hand_back.frozen import stored_sheet
from breakangle.services.overview.search import find
from breakangle.services.records.erase import NOTE, erase_person, erased_words, person_named
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import correct, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import add_owner
from breakangle.services.workshop.attachments import attach
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.prices import add_line
from breakangle.storage.backup.copies import make_backup, verified
from breakangle.storage.backup.examine import examine
from breakangle.storage.exchange.exchange import export_shop
from breakangle.storage.records.records import Attachment, Closing, InstrumentRecord, Owner, Setting, Visit
from breakangle.storage.schema.tables import ENTRY, METADATA
from shop_fixtures.filled import fill, picture
from shop_fixtures.people import ADA, BO, GAP, START, later

pytest_plugins = ["shop_fixtures.shops", "web_fixtures.at_hand"]

NAME, MAIL, PHONE, STREET = "Åse Quillfeather", "ase.q@example.org", "+47 555 01 999", "7 Curlew Lane"
SECRETS = (NAME, "ase quillfeather", "Quillfeather", "quillfeather", MAIL, PHONE, STREET)


@pytest.fixture
def folder(tmp_path):
    """Return a shop's folder with two people in it, one of them in every place a person can be in."""
    return filled_folder(tmp_path)


def filled_folder(tmp_path, url=None):
    shop = shop_at(tmp_path / "shop", url)
    owner = add_owner(shop, ADA, NAME, f"{STREET}\n{MAIL}, {PHONE}")
    owner = shop.change(owner, BO, notes=f"{NAME} pays late")
    shop.delete(owner, BO)
    shop.restore(Owner, owner.id, BO)
    add_owner(shop, ADA, "Bram Thistle", "bram@example.org")
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    instrument = shop.get(InstrumentRecord, visit.instrument_id)
    shop.change(instrument, ADA, owner_id=owner.id, notes=f"for Åse; call {PHONE}")
    visit = shop.change(
        shop.get(Visit, visit.id), ADA, complaint=f"{NAME} says it buzzes", owner_words="Dear Åse"
    )
    attach(shop, ADA, visit, "photograph", f"{NAME}.png", picture())
    attach(shop, ADA, visit, "recording", "e.wav", b"RIFF not much")
    add_line(shop, ADA, visit, "labour", "set-up", "65", "1")
    visit = shop.get(Visit, visit.id)
    close_visit(shop, visit, ADA, Closes({one.key: "agreed" for one in gate_of(shop, visit)}, "Ada", "a4"))
    make_backup(shop, START)
    shop.close()
    return tmp_path / "shop"


def inflated(content: bytes) -> bytes:
    """Return what the packed streams of a PDF hold (ISO 32000, FlateDecode), after the bytes themselves."""
    found = [content]
    for part in re.findall(rb"stream\r?\n(.*?)endstream", content, re.DOTALL):
        try:
            found.append(zlib.decompress(part.rstrip(b"\r\n")))
        except zlib.error:
            continue
    return b"\n".join(found)


def leaks(folder, shot: bytes) -> list[str]:
    """Return every file under the folder whose bytes hold the person."""
    found = []
    for path in sorted(one for one in folder.rglob("*") if one.is_file()):
        content = inflated(path.read_bytes())
        found += [f"{path.relative_to(folder)}: {one}" for one in SECRETS if one.encode() in content]
        if shot[:64] in content or hashlib.sha256(shot).hexdigest() in str(path):
            found.append(f"{path.relative_to(folder)}: the photograph")
    return found


def test_person_is_in_no_file_of_the_folder(folder):
    before = leaks(folder, picture())
    assert {one.split(": ", 1)[1] for one in before} >= {NAME, MAIL, PHONE, STREET, "the photograph"}
    shop = shop_at(folder)
    owner = next(one for one in shop.every(Owner) if one.name == NAME)
    with pytest.raises(CorrectInputError, match="cannot be brought back"):
        erase_person(shop, owner.id, ADA, sure=False)
    old = shop.every(Closing)[0].pdf_hash
    done = erase_person(shop, owner.id, ADA, sure=True)
    assert done.sheets == ((1, old),)
    assert (done.photographs, done.copies_left) == (1, ())
    assert done.bills_kept[0][0] == 1
    assert "65" in done.bills_kept[0][1]
    later = make_backup(shop, datetime(2027, 6, 1, tzinfo=UTC))
    export_shop(shop, folder / "taken-along.zip")
    shop.close()
    assert leaks(folder, picture()) == []
    assert later.counts["owner"] == 2


def on_server(server, database: str) -> list[str]:
    """Return every file of a database, after a checkpoint, whose bytes hold the person; the log's files beside."""
    server.statement("CHECKPOINT")
    data = server.folder / "data"
    with psycopg.connect(f"host={server.folder} user=postgres dbname={database}") as connection:
        number = connection.execute(
            "SELECT oid FROM pg_database WHERE datname = current_database()"
        ).fetchone()[0]
    return [*leaks(data / "base" / str(number), picture()), *leaks(data / "pg_wal", picture())]


def test_person_is_in_no_file_of_a_database_server(tmp_path, server, migrated):
    """Neither the tables' own files nor the write-ahead log hold anything, on a server that keeps old log files."""
    url = server.new_database(migrated)
    database = url.rpartition("@/")[2].partition("?")[0]
    folder = filled_folder(tmp_path, url)
    before = on_server(server, database)
    assert {one.split(": ", 1)[1] for one in before} >= {NAME, MAIL, PHONE}
    assert [one for one in before if one.startswith("00000")]
    shop = shop_at(folder, url)
    old = shop.every(Closing)[0].pdf_hash
    done = erase_person(shop, person_named(shop, NAME).id, ADA, sure=True)
    assert done.sheets == ((1, old),)
    assert on_server(server, database) == []
    words = [one for one in erased_words(done) if "write-ahead log" in one]
    assert len(words) == 1
    assert words[0].startswith("An archive")
    assert old[:16] in stored_sheet(shop, shop.every(Closing)[0], "html").decode()
    shop.close()
    assert done.copies_left  # exports, which go when backups of their age are let go of
    copies = {one.split(": ", 1)[0] for one in leaks(folder, picture())}
    assert copies <= set(done.copies_left) | {one for one in copies if one.startswith("backups/")}


def test_what_stays_is_whole_and_says_so(folder):
    shop = shop_at(folder)
    owner = next(one for one in shop.every(Owner) if one.name == NAME)
    old = shop.every(Closing)[0].pdf_hash
    erase_person(shop, owner.id, ADA, sure=True)
    sheet = stored_sheet(shop, shop.every(Closing)[0], "html").decode()
    assert "A person was erased on 2027-" in sheet
    assert old[:16] in sheet
    assert stored_sheet(shop, shop.every(Closing)[0], "pdf").startswith(b"%PDF-")
    note = json.loads(shop.get(Setting, f"{NOTE}{owner.id}").value)
    assert "".join(note["sheets"][0][1:]) == old
    assert note["bills_kept"][0][0] == 1
    assert [one.name for one in shop.every(Owner)].count("Bram Thistle") == 1
    assert [one.name for one in shop.every(Attachment)] == ["e.wav"]
    assert find(shop, "Quillfeather") == ()
    backup = next(one.parent for one in (folder / "backups").glob("*/backup.json"))
    assert verified(backup).counts["owner"] == 2
    wrong = [one.what for one in examine(shop, START) if not one.well and "backup" not in one.what]
    assert wrong == []
    shop.close()


def test_person_is_in_no_row_of_either_engine(shop):
    visit = fill(shop)
    entry = take_reading(shop, visit.id, GAP, ADA)
    correct(shop, entry.id, GAP | {"mm": 1.7}, "Åse Holm read it herself", ADA)
    owner = person_named(shop, "Åse Holm")
    erase_person(shop, owner.id, later(days=1), sure=True)
    with shop.reading() as connection:
        rows = [repr(row) for table in METADATA.sorted_tables for row in connection.execute(select(table))]
    assert len(rows) > 20
    assert [row for row in rows if "Holm" in row or "ase@example.org" in row] == []
    with pytest.raises(DBAPIError, match="never changed"), shop.writing() as connection:
        connection.execute(update(ENTRY).values(taken_by="Bo"))
    with pytest.raises(CorrectInputError, match='no people are called "Åse Holm"'):
        person_named(shop, "Åse Holm")


def test_page_asks_whether_one_is_sure_and_tells_what_was_kept(first_sheet):
    first_sheet.post(
        "/shop/lists/owner", data={"name": "Åse Holm", "contact": "ase@example.org", "notes": ""}
    )
    listed = first_sheet.get("/shop/lists/owner").text
    address = re.search(r"/shop/lists/owner/\w+/erase", listed)[0]
    refused = first_sheet.post(address)
    assert refused.status_code == 422
    assert "say that you are sure" in refused.text.lower()
    told = first_sheet.post(address, data={"sure": "yes"})
    assert "0 photographs are gone" in told.text
    assert "Åse Holm" not in first_sheet.get("/shop/lists/owner").text
