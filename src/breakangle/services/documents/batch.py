"""Sheets of many visits into a folder: one by one, whole or not at all, and where it stopped it goes on."""

import hashlib
import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from breakangle.model.errors import BreakangleError, ChooseAnotherFileError
from breakangle.model.words.speech import tr
from breakangle.services.documents.sheets import sheet_file, sheet_name
from breakangle.services.workshop.paper_heading import letterhead_of, paper_of
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import InstrumentRecord, Line, Visit
from breakangle.storage.records.store import Shop

MADE = "made.txt"  # in the folder: each sheet made, and the mark of what it was made from


@dataclass(frozen=True)
class Made:
    """One visit's sheet: `state` is made, unchanged, or refused with the reason in `told`."""

    visit: Visit
    path: Path
    state: str
    told: str = ""


@dataclass(frozen=True)
class Batch:
    """What a batch makes: which sheet, in which form, on which paper, with or without pictures."""

    sheet: str = "hand-back"
    form: str = "pdf"
    on: str | None = None
    base: str = ""
    pictures: bool = True


def visits_of(shop: Shop) -> tuple[Visit, ...]:
    """Return every visit, by the number of its sheet."""
    return tuple(sorted(shop.every(Visit), key=lambda one: one.number))


def sheets_into(shop: Shop, folder: Path, visits: Sequence[Visit], batch: Batch) -> Iterator[Made]:
    """Make the visits' sheets into `folder`, and yield each as it is done; stop asking to stop.

    A sheet that is there already and would come out the same is left as it is, so that a batch that was broken off
    goes on where it was. A visit whose readings no instrument fits is refused, and the next one made.

    Raises:
        ChooseAnotherFileError: the folder cannot be made or written.
        InstallError: the typesetter is not installed.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        known = _known(folder / MADE)
    except OSError as cause:
        raise _unwritable(folder, cause) from cause
    common = repr((batch, letterhead_of(shop), paper_of(shop, batch.on)))
    for visit in visits:
        yield _made(shop, folder, visit, batch, known, common)


def _made(shop: Shop, folder: Path, visit: Visit, batch: Batch, known: dict[str, str], common: str) -> Made:
    path = folder / sheet_name(visit, batch.sheet, batch.form)
    mark = _mark(shop, visit, common)
    if known.get(path.name) == mark and path.exists():
        return Made(visit, path, "unchanged")
    try:
        content = sheet_file(
            shop, visit, batch.sheet, batch.form, batch.on,
            f"{batch.base}{visit.instrument_id}" if batch.base else "", batch.pictures,
        )  # fmt: skip
    except BreakangleError as error:
        if isinstance(error, ChooseAnotherFileError):
            raise
        return Made(visit, path, "refused", str(error))
    try:
        _write(path, content)
        with (folder / MADE).open("a", encoding="utf-8") as file:
            file.write(f"\n{path.name} {mark}")  # on a line of its own, whatever was cut short before
    except OSError as cause:
        raise _unwritable(folder, cause) from cause
    return Made(visit, path, "made")


def _write(path: Path, content: bytes) -> None:
    """Write a file whole or not at all."""
    number, name = tempfile.mkstemp(prefix=".unfinished-", dir=path.parent)
    try:
        with os.fdopen(number, "wb") as file:
            file.write(content)
        Path(name).chmod(0o644)
        Path(name).replace(path)
    finally:
        with suppress(FileNotFoundError):
            Path(name).unlink()


def _known(path: Path) -> dict[str, str]:
    """Return the marks of the sheets that were made; a line that was cut short counts for nothing."""
    if not path.exists():
        return {}
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    return dict(line.split(" ", 1) for line in lines if line.count(" ") == 1)


def _mark(shop: Shop, visit: Visit, common: str) -> str:
    """Return a mark that differs when anything the visit's own sheet says has changed.

    What later visits of other necks teach does not count: a sheet once handed over is not to change by itself.
    """
    record = shop.get(InstrumentRecord, visit.instrument_id, deleted=True)
    entries = [entry.id for entry in entries_of(shop, visit.id)]
    lines = [(line.id, line.version) for line in shop.every(Line, visit_id=visit.id)]
    parts = (common, visit.id, visit.version, record.version, entries, lines)
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:32]


def _unwritable(folder: Path, cause: OSError) -> ChooseAnotherFileError:
    reason = (cause.strerror or tr("cannot be written")).lower()
    return ChooseAnotherFileError(
        tr("{folder} cannot be written: {reason}", folder=folder, reason=reason),
        "",
        tr("name another folder"),
    )
