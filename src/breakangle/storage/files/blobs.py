"""Recordings and photographs beside the database, each under the hash of its bytes, verified when read."""

import hashlib
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from typing import IO

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.small_picture import small_picture
from breakangle.model.words.speech import tr
from breakangle.storage.schema.errors import ShopDamagedError, ShopOutOfReachError

LARGEST_BYTES = {"photograph": 40_000_000, "recording": 200_000_000, "sheet": 40_000_000}
THUMBNAIL_PIXELS = 320
PART_BYTES, BEING_MADE_S = 1 << 20, 3600.0
BLOBS, THUMBNAILS, UNFINISHED = "blobs", "thumbnails", ".unfinished-"
FOLDER_CAN_BE_SYNCED = os.name != "nt"  # Windows opens no folder, and writes names through by itself


def blob_path(folder: Path, name: str) -> Path:
    """Return where the bytes with this hash lie."""
    return folder / BLOBS / name[:2] / name


def put_blob(folder: Path, content: bytes, kind: str) -> str:
    """Store the bytes and return their hash (SHA-256); the same bytes are stored once.

    Raises:
        ChooseAnotherFileError: empty, or larger than a photograph or recording may be.
        ShopOutOfReachError: they cannot be written.
    """
    most = LARGEST_BYTES[kind]
    if not 0 < len(content) <= most:
        given = tr(
            "this {kind} has {content_count:.1f} MB", kind=kind, content_count=len(content) / 1000000.0
        )
        raise ChooseAnotherFileError(
            given,
            tr("more than nothing and at most {most:.0f} MB", most=most / 1000000.0),
            tr("choose another"),
        )
    name = hashlib.sha256(content).hexdigest()
    path = blob_path(folder, name)
    if path.exists() and path.read_bytes() == content:
        return name
    write_whole(path, content)
    return name


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all, and only return when it is on the disk.

    Raises:
        ShopOutOfReachError: it cannot be written.
    """
    pour_whole(path, BytesIO(content))


def pour_whole(path: Path, content: IO[bytes]) -> None:
    """Write what `content` gives, part by part, to a file whole or not at all, as `write_whole` does.

    Raises:
        ShopOutOfReachError: it cannot be written.
    """
    unfinished = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        number, unfinished = tempfile.mkstemp(prefix=UNFINISHED, dir=path.parent)
        with os.fdopen(number, "wb") as file:
            shutil.copyfileobj(content, file, PART_BYTES)
            file.flush()
            os.fsync(file.fileno())
        Path(unfinished).replace(path)
        on_disk(path.parent)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        given = tr("{parent} cannot be written: {reason}", parent=path.parent, reason=reason)
        raise ShopOutOfReachError(
            given, tr("nothing was stored"), tr("make room or allow writing, then try again")
        ) from cause
    finally:
        if unfinished is not None:
            with suppress(OSError):
                Path(unfinished).unlink()


def on_disk(path: Path) -> None:
    """Return only when the file, or a folder's names, are on the disk."""
    if path.is_dir() and not FOLDER_CAN_BE_SYNCED:
        return
    number = os.open(path, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def pour_blob(folder: Path, name: str, into: IO[bytes]) -> None:
    """Write the bytes with this hash into an open file, part by part.

    Raises:
        ShopDamagedError: they are missing, or are not what was stored.
    """
    digest = hashlib.sha256()
    with _opened(folder, name) as file:
        while part := file.read(PART_BYTES):
            digest.update(part)
            into.write(part)
    if digest.hexdigest() != name:
        raise ShopDamagedError(
            tr("the file {name} is damaged", name=name[:12]), "", tr("restore it from a backup")
        )


def sound_blob(folder: Path, name: str) -> None:
    """Read the bytes with this hash through.

    Raises:
        ShopDamagedError: they are missing, or are not what was stored.
    """
    with Path(os.devnull).open("wb") as nowhere:
        pour_blob(folder, name, nowhere)


def _opened(folder: Path, name: str) -> IO[bytes]:
    try:
        return blob_path(folder, name).open("rb")
    except FileNotFoundError as cause:
        raise ShopDamagedError(
            tr("the file {name} is missing", name=name[:12]), "", tr("restore it from a backup")
        ) from cause
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            tr("the file {name} cannot be read: {reason}", name=name[:12], reason=reason),
            "",
            tr("check the disk"),
        ) from cause


def get_blob(folder: Path, name: str) -> bytes:
    """Return the bytes with this hash.

    Raises:
        ShopDamagedError: they are missing, or are not what was stored.
    """
    content = BytesIO()
    pour_blob(folder, name, content)
    return content.getvalue()


def thumbnail(folder: Path, name: str) -> bytes:
    """Return the photograph small, as a JPEG of at most 320 pixels a side, made once.

    Raises:
        ChooseAnotherFileError: it is no picture, or has more than 80 million pixels.
        ShopDamagedError: the photograph is missing or damaged.
    """
    small = thumbnail_path(folder, name)
    if small.exists():
        return small.read_bytes()
    out = BytesIO()
    small_picture(get_blob(folder, name), THUMBNAIL_PIXELS).save(out, "JPEG", quality=80)
    write_whole(small, out.getvalue())
    return out.getvalue()


def thumbnail_path(folder: Path, name: str) -> Path:
    """Return where the small picture of the photograph with this hash lies once it was made."""
    return folder / THUMBNAILS / name[:2] / f"{name}.jpg"


def blob_names(folder: Path) -> Iterator[str]:
    """Yield the hash of every file stored, in order."""
    for path in sorted((folder / BLOBS).glob("??/*")):
        if not path.name.startswith(UNFINISHED):
            yield path.name


def unfinished_files(folder: Path) -> list[Path]:
    """Return what an interrupted writing has left; none of it was ever acknowledged.

    A folder may be a backup that is just being made, so one is named only an hour after it was begun.
    """
    left = sorted(folder.rglob(f"{UNFINISHED}*"))
    return [one for one in left if not one.is_dir() or time.time() - one.stat().st_mtime > BEING_MADE_S]


def keep_blob(source: Path, target: Path, name: str, link_to: Path | None = None) -> None:
    """Put the bytes with this hash under another folder too, as bytes of their own.

    Where `link_to` holds them already, they are linked to those instead: two backups may share what a shop and its
    backup must not, because what damages a file in place would damage both.
    """
    path = blob_path(target, name)
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    if link_to is not None:
        with suppress(OSError):  # not there, or another disk: copy
            os.link(blob_path(link_to, name), path)
            return
    shutil.copy2(blob_path(source, name), path)
