"""Everything that can be wrong with a shop, each finding with how to mend it."""

import os
import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select, text

from breakangle.model.errors import BreakangleError
from breakangle.model.words.speech import tr
from breakangle.storage.backup.keeper import standing
from breakangle.storage.backup.trial import tried
from breakangle.storage.files.blobs import blob_names, blob_path, sound_blob, unfinished_files
from breakangle.storage.records.closings import sheet_hashes, stored_hashes
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import ShopDamagedError
from breakangle.storage.schema.tables import ATTACHMENT, COUNTER, VISIT

LEAST_FREE_BYTES = 500_000_000
DAY = timedelta(days=1)
BACK_UP = "breakangle backup"


@dataclass(frozen=True)
class Finding:
    """One thing looked at: whether it is well, what was found, and how to mend it where it is not."""

    well: bool
    what: str
    mend: str = ""


def examine(shop: Shop, now: datetime) -> tuple[Finding, ...]:
    """Return a finding for everything looked at; nothing is changed."""
    looks = (_records, _numbers, _files, _leftovers, _room, _writable, lambda shop: _backups(shop, now))
    found: list[Finding] = []
    for look in looks:
        try:
            found += look(shop)
        except BreakangleError as error:
            found.append(Finding(False, str(error).rstrip("."), error.remedy or tr("restore a backup")))
    return tuple(found)


def _records(shop: Shop) -> list[Finding]:
    """Look at the records file itself (a server looks after its own)."""
    if not shop.is_file:
        with shop.reading() as connection:
            connection.execute(select(VISIT.c.id).limit(1))
        return [Finding(True, tr("the server answers"))]
    with shop.reading() as connection:
        said = [row[0] for row in connection.execute(text("PRAGMA integrity_check"))]
        loose = connection.execute(text("PRAGMA foreign_key_check")).all()
    if said != ["ok"]:
        mend = tr("restore a backup: breakangle restore")
        return [Finding(False, tr("the records are damaged: {said}", said=" ".join(said[0].split())), mend)]
    if loose:
        return [
            Finding(
                False,
                tr("{loose_count} records point at nothing", loose_count=len(loose)),
                tr("restore a backup: breakangle restore"),
            )
        ]
    return [Finding(True, tr("the records are whole"))]


def _numbers(shop: Shop) -> list[Finding]:
    with shop.reading() as connection:
        numbers = list(connection.execute(select(VISIT.c.number).order_by(VISIT.c.number)).scalars())
        last = connection.execute(select(COUNTER.c.last).where(COUNTER.c.name == "sheet")).scalar() or 0
    if numbers != list(range(1, last + 1)):
        gap = next(one for one in range(1, last + 2) if one not in set(numbers))
        return [
            Finding(
                False,
                tr("sheet {gap} is missing from the numbers", gap=gap),
                tr("restore a backup: breakangle restore"),
            )
        ]
    return [Finding(True, tr("{last} sheets, numbered without gaps", last=last))]


def _files(shop: Shop) -> list[Finding]:
    with shop.reading() as connection:
        rows = connection.execute(
            select(ATTACHMENT.c.hash, ATTACHMENT.c.name).order_by(ATTACHMENT.c.id)
        ).all()
        sheets = sheet_hashes(connection)
    found, wanted = [], sheets | {row.hash: row.name for row in rows}
    for name, words in wanted.items():
        try:
            sound_blob(shop.folder, name)
        except ShopDamagedError as error:
            mend = tr("copy it from a backup's blobs folder, or attach it again")
            found.append(Finding(False, f"{words}: {error.given}", mend))
    strays = [name for name in blob_names(shop.folder) if name not in wanted]
    if strays:
        mend = tr("an attachment was interrupted; `breakangle doctor --mend` removes them")
        found.append(
            Finding(False, tr("{strays_count} files belong to no visit", strays_count=len(strays)), mend)
        )
    return found or [
        Finding(
            True,
            tr(
                "{wanted_count} recordings, photographs and closed sheets are whole", wanted_count=len(wanted)
            ),
        )
    ]


def _leftovers(shop: Shop) -> list[Finding]:
    left = unfinished_files(shop.folder)
    if left:
        mend = tr("they were never acknowledged; `breakangle doctor --mend` removes them")
        return [Finding(False, tr("{left_count} files were only half written", left_count=len(left)), mend)]
    return []


def _room(shop: Shop) -> list[Finding]:
    free = shutil.disk_usage(shop.folder).free
    if free < LEAST_FREE_BYTES:
        return [
            Finding(
                False, tr("only {free:.0f} MB of the disk are free", free=free / 1000000.0), tr("make room")
            )
        ]
    return [Finding(True, tr("{free:.0f} GB of the disk are free", free=free / 1000000000.0))]


def _writable(shop: Shop) -> list[Finding]:
    if not os.access(shop.folder, os.W_OK):
        return [Finding(False, tr("{folder} is read-only", folder=shop.folder), tr("allow writing there"))]
    return []


def _backups(shop: Shop, now: datetime) -> list[Finding]:
    """Look at the newest backup: how old it is, whether it can be restored, and whether the records hold less."""
    stand = standing(shop)
    if stand.last is None:
        return [Finding(False, tr("there is no backup"), BACK_UP)]
    fresh, made_at = (
        abs(now - stand.last.made_at) < 2 * DAY,
        tr("{made_at:%Y-%m-%d %H:%M} UTC", made_at=stand.last.made_at),
    )
    words = tr("the last backup is from {made_at}", made_at=made_at)
    if stand.last.made_at > now + DAY:
        words += tr(", which is yet to come: a clock was wrong then, or is now")
    found = [Finding(fresh, words, "" if fresh else BACK_UP)]
    if stand.last.missing:
        words = tr("{missing} recordings or photographs are missing from it", missing=stand.last.missing)
        found.append(Finding(False, words, tr("see what is damaged above, mend it, then back up")))
    if stand.older:
        words = tr("the records hold less than the last backup: an older file may lie in their place")
        found.append(
            Finding(
                False,
                words,
                tr("restore a backup: breakangle restore {path_name}", path_name=stand.last.path.name),
            )
        )
    said = tried(stand.last.path)
    if said:
        found.append(Finding(False, tr("the last backup cannot be restored: {said}", said=said), BACK_UP))
    else:
        found.append(Finding(True, tr("the last backup was restored as a trial, and counted")))
    return found


def mend(shop: Shop) -> int:
    """Remove half-written files and files of no visit, and return how many; records are never touched."""
    with shop.writing() as connection:
        wanted = set(stored_hashes(connection))
        gone = unfinished_files(shop.folder)
        gone += [blob_path(shop.folder, name) for name in blob_names(shop.folder) if name not in wanted]
        for path in gone:
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)
    return len(gone)
