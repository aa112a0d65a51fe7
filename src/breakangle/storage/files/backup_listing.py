"""The backups in a folder: their order, their names, and which of them are let go of.

Clocks are wrong at times, also for years. So each backup carries a number that grows, and that number, not its date,
says which is the newest.
"""

import json
import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from breakangle.storage.files.blobs import write_whole
from breakangle.storage.schema.stamp import from_utc_text

BACKUPS = "backups"  # the folder they lie in, beside the records
RECORDS, EXPORT, MANIFEST = "shop.db", "shop.zip", "backup.json"
RESTORED = "restored.json"
# What is kept: common practice of rotating backups, no source.
KEPT_NEWEST, KEPT_DAYS, KEPT_WEEKS, KEPT_MONTHS = 3, 14, 5, 12


@dataclass(frozen=True)
class Listed:
    """A backup as its own note tells of it, not opened: its number, its date, the shop it is of, its rows."""

    path: Path
    sequence: int
    made_at: datetime
    shop: str
    counts: dict[str, int]
    missing: int


def backups(folder: Path) -> list[Listed]:
    """Return the backups in `folder`, newest first; what has no readable note is none."""
    found = []
    for note in folder.glob(f"*/{MANIFEST}"):
        if note.parent.name.startswith("."):  # one being made
            continue
        try:
            content = json.loads(note.read_text(encoding="utf-8"))
            found.append(
                Listed(
                    note.parent,
                    int(content.get("sequence", 0)),  # none before backups were numbered
                    from_utc_text(content["made_at"]),
                    str(content.get("shop", "")),
                    {str(name): int(count) for name, count in content["counts"].items()},
                    len(content.get("missing", ())),
                )
            )
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            continue
    return sorted(found, key=lambda backup: (backup.sequence, backup.made_at), reverse=True)


def note_restored(folder: Path) -> None:
    """Write down which backup was the newest when one was restored: that the records now hold less is meant.

    Raises:
        ShopOutOfReachError: it cannot be written.
    """
    newest = next(iter(backups(folder)), None)
    if newest is not None:
        write_whole(folder / RESTORED, json.dumps({"after": newest.sequence}).encode())


def restored_after(folder: Path) -> int:
    """Return the number of the newest backup when one was last restored; -1 where none ever was."""
    try:
        return int(json.loads((folder / RESTORED).read_text(encoding="utf-8"))["after"])
    except (OSError, ValueError, KeyError, TypeError):
        return -1


def free_name(folder: Path, at: datetime) -> str:
    """Return a folder's name for a backup of this moment that no other has: a clock may show a moment twice."""
    plain = at.strftime("%Y-%m-%dT%H%M%SZ")
    name, count = plain, 1
    while (folder / name).exists():
        count += 1
        name = f"{plain}-{count}"
    return name


def rotate(folder: Path) -> list[Path]:
    """Remove what is older than need be, and return what is gone.

    Kept are the newest three, the last of a day for 14 days, of a week for 5 and of a month for 12. Days are those on
    which there was a backup, counted back from the newest by number: a wrong clock makes none of them old. What cannot
    be removed now is left for the next time: the new backup is made all the same.
    """
    every = backups(folder)
    kept = {backup.path for backup in every[:KEPT_NEWEST]}
    for form, most in (("%Y-%m-%d", KEPT_DAYS), ("%G-%V", KEPT_WEEKS), ("%Y-%m", KEPT_MONTHS)):
        newest: dict[str, Path] = {}
        for backup in every:
            newest.setdefault(backup.made_at.strftime(form), backup.path)
        kept |= set(list(newest.values())[:most])
    gone = [backup.path for backup in every if backup.path not in kept]
    for path in gone:
        shutil.rmtree(path, ignore_errors=True)
    return [path for path in gone if not path.exists()]
