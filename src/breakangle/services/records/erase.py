"""Erase a person: out of the records, files, index, journal and backups; what the law wants kept is kept and listed."""

import base64
import html
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path

from breakangle.documents.renderers.page import Page, Paragraph
from breakangle.documents.renderers.page_html import page_html
from breakangle.documents.renderers.page_pdf import page_pdf
from breakangle.documents.renderers.pictures import data_address
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.records.personal import personal, words_of
from breakangle.services.workshop.paper_heading import letterhead_of, paper_of
from breakangle.services.workshop.prices import bill
from breakangle.storage.backup.erasing import (
    Erasure,
    erase_files,
    erase_in_copies,
    erase_rows,
    without_free_pages,
)
from breakangle.storage.backup.erasing_server import without_old_pages
from breakangle.storage.files.blobs import blob_path, get_blob, write_whole
from breakangle.storage.records.records import Attachment, Closing, Owner, Setting, Visit
from breakangle.storage.records.store import Shop, add_record
from breakangle.storage.schema.errors import ShopDamagedError
from breakangle.storage.schema.stamp import Stamp, utc_text

EXAMPLE = "example"
NOTE = "erased:"
DRAWN = re.compile(r"data:image/svg\+xml;base64,([A-Za-z0-9+/=]+)")
NOTHING = '<svg xmlns="http://www.w3.org/2000/svg" width="1" height="1"></svg>'


@dataclass(frozen=True)
class Erased:
    """What was done: sheets replaced (number, old hash), photographs gone, bills kept, copies that still hold it.

    `server_keeps` says what a database server may still hold, and how its keeper ends that.
    """

    sheets: tuple[tuple[int, str], ...]
    photographs: int
    bills_kept: tuple[tuple[int, str], ...]
    copies_left: tuple[str, ...]
    server_keeps: tuple[str, ...] = ()


def erase_person(shop: Shop, owner_id: str, stamp: Stamp, sure: bool) -> Erased:
    """Erase the person for good; nothing brings it back.

    Name, address, e-mail, telephone and photographs go from the records, what stood in them before, the index, the
    files and the backups in the shop's folder. Readings and work stay, of nobody. Bills stay, without the name.

    Raises:
        CorrectInputError: not said to be sure.
        NoSuchRecordError: no such person.
        ShopOutOfReachError: it could not be written.
    """
    owner = shop.get(Owner, owner_id, deleted=True)
    if not sure:
        raise CorrectInputError(
            tr("a person erased cannot be brought back"), "", tr("say that you are sure, then do it again")
        )
    theirs = personal(shop, owner)
    visits, photographs = theirs.visits, theirs.photographs
    note = tr("A person was erased on {at:%Y-%m-%d}.", at=stamp.at)
    words, parts, exact = words_of(shop, owner)
    kept_by_others = {one.hash for one in shop.every(Attachment, deleted=True) if one not in photographs}
    plain = Erasure(
        owner.id, theirs.own, words, parts, frozenset(one.id for one in photographs),
        frozenset(one.hash for one in photographs) - kept_by_others, {}, {}, exact,
    )  # fmt: skip
    closings = list(_closings_naming(shop, plain))
    new_files: dict[str, bytes] = {}
    instead: dict[str, str] = {}
    for visit, closing in closings:
        for old, content in _sheet_again(shop, visit, closing, plain, note).items():
            instead[old] = sha256(content).hexdigest()
            new_files[instead[old]] = content
    erasure = replace(plain, instead=instead, new_files=new_files)
    bills = tuple(
        (one.number, f"{told.total:f} {told.currency}") for one in visits if (told := bill(shop, one)).lines
    )
    return _erased(shop, stamp, erasure, note, closings, bills)


def _closings_naming(shop: Shop, plain: Erasure) -> Iterator[tuple[Visit, Closing]]:
    """Yield every closing of the person's visits, and those of others that name the person all the same."""
    for one in shop.every(Closing, deleted=True):
        if one.visit_id in plain.own or plain.without(one.body, own=False, column="body") != one.body:
            yield shop.get(Visit, one.visit_id, deleted=True), one


def _erased(
    shop: Shop,
    stamp: Stamp,
    erasure: Erasure,
    note: str,
    closings: list[tuple[Visit, Closing]],
    bills: tuple[tuple[int, str], ...],
) -> Erased:
    sheets = tuple((visit.number, closing.pdf_hash) for visit, closing in closings)
    said = {
        "note": note,
        "at": utc_text(stamp.at),
        "bills_kept": bills,
        "photographs": len(erasure.photographs),
    }
    # Old hashes as two halves: what replaces them in the records must not replace them in this note.
    said |= {"sheets": [(number, old[:32], old[32:]) for number, old in sheets]}
    for name, content in erasure.new_files.items():
        write_whole(blob_path(shop.folder, name), content)
    with shop.writing() as connection:
        erase_rows(connection, erasure)
        add_record(connection, Setting, stamp, f"{NOTE}{erasure.owner}", value=json.dumps(said))
    erase_files(shop.folder, erasure)
    live = shop.place if isinstance(shop.place, Path) else None
    server_keeps: tuple[str, ...] = ()
    if live is not None:
        without_free_pages(live)
    else:
        server_keeps = without_old_pages(shop.engine)
    left = erase_in_copies(shop.folder, live, shop.folder / EXAMPLE, erasure, note)
    return Erased(sheets, len(erasure.photographs), bills, tuple(left), server_keeps)


def _sheet_again(shop: Shop, visit: Visit, closing: Closing, erasure: Erasure, note: str) -> dict[str, bytes]:
    """Return a closed sheet without the person, as PDF and as page, by the hashes of those that named the person."""
    own = visit.id in erasure.own
    text = erasure.without(str(json.loads(closing.body)["text"]), own)
    told = tr(
        "{note} This sheet stands in the place of the one with the hash {pdf_hash}.",
        note=note,
        pdf_hash=closing.pdf_hash[:16],
    )
    page = Page(
        tr("Hand-back"), tr("sheet {visit_number}", visit_number=visit.number), letterhead_of(shop), (),
        (Paragraph(told, "lead"), *(Paragraph(line) for line in text.splitlines() if line.strip())),
    )  # fmt: skip
    try:
        old = get_blob(shop.folder, closing.html_hash).decode("utf-8")
    except ShopDamagedError:  # what is left of it goes all the same
        old = page_html(page)
    # The photographs on another's sheet are that other's, whoever is named beside them.
    without = erasure.without_on_page(DRAWN.sub(_without_photograph, old) if own else old, own)
    without = without.replace("</body>", f"<p>{html.escape(told)}</p></body>")
    return {closing.pdf_hash: page_pdf(page, paper_of(shop)), closing.html_hash: without.encode()}


def _without_photograph(drawn: "re.Match[str]") -> str:
    held = base64.b64decode(drawn[1])
    return data_address(NOTHING) if b"data:image/jpeg" in held else drawn[0]


def person_named(shop: Shop, name: str) -> Owner:
    """Return the one owner of that name or id, deleted or not.

    Raises:
        CorrectInputError: none, or several.
    """
    people = [one for one in shop.every(Owner, deleted=True) if name in (one.name, one.id)]
    if len(people) != 1:
        given = tr(
            '{people_count} people are called "{name}"', people_count=len(people) or tr("no"), name=name
        )
        raise CorrectInputError(given, tr("one name, or an id"), tr("see `breakangle search`"))
    return people[0]


def erased_words(done: Erased) -> tuple[str, ...]:
    """Return what was done and what was kept, a sentence each."""
    told = [tr("Erased. {photographs} photographs are gone.", photographs=done.photographs)]
    told += [
        tr(
            "Sheet {number} was made again without the person; the hash of the old one was {old}.",
            number=number,
            old=old[:16],
        )
        for number, old in done.sheets
    ]
    told += [
        tr("Kept, without the name: the bill of sheet {number}, {total}.", number=number, total=total)
        for number, total in done.bills_kept
    ]
    told += [
        tr("Not made again: {name}. It goes when backups of its age are let go of.", name=name)
        for name in done.copies_left
    ]
    told += done.server_keeps
    told.append(tr("Copies on other disks and exports taken along are not reached from here."))
    return tuple(told)
