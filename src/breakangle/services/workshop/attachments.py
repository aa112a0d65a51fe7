"""Recordings and photographs of a visit or an instrument."""

from pathlib import Path

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr
from breakangle.services.workers.queue import PICTURES
from breakangle.storage.files.blobs import (
    LARGEST_BYTES,
    blob_path,
    get_blob,
    put_blob,
    thumbnail,
    thumbnail_path,
)
from breakangle.storage.records.records import Attachment, InstrumentRecord, Visit
from breakangle.storage.records.store import Shop, add_record
from breakangle.storage.schema.stamp import Stamp

# By the ending of its name; no table of this computer, which differs from one to the next.
MEDIA: dict[str, dict[str, str]] = {
    "photograph": {
        ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".jpe": "image/jpeg", ".jfif": "image/jpeg",
        ".png": "image/png", ".gif": "image/gif", ".webp": "image/webp", ".avif": "image/avif",
        ".bmp": "image/bmp", ".tif": "image/tiff", ".tiff": "image/tiff", ".heic": "image/heic", ".heif": "image/heif",
    },
    "recording": {
        ".wav": "audio/wav", ".wave": "audio/wav", ".w64": "audio/x-w64", ".rf64": "audio/x-rf64",
        ".flac": "audio/flac", ".mp3": "audio/mpeg", ".ogg": "audio/ogg", ".oga": "audio/ogg", ".opus": "audio/ogg",
        ".aif": "audio/aiff", ".aiff": "audio/aiff", ".aifc": "audio/aiff", ".caf": "audio/x-caf",
        ".au": "audio/basic", ".snd": "audio/basic", ".m4a": "audio/mp4", ".m4b": "audio/mp4", ".aac": "audio/aac",
        ".3gp": "audio/3gpp", ".3gpp": "audio/3gpp", ".3g2": "audio/3gpp2", ".3gpp2": "audio/3gpp2",
        ".amr": "audio/amr", ".awb": "audio/amr-wb", ".weba": "audio/webm", ".webm": "audio/webm",
        ".mp4": "video/mp4", ".m4v": "video/mp4", ".mov": "video/quicktime",
        ".mka": "audio/x-matroska", ".mkv": "video/x-matroska",
    },
}  # fmt: skip


def attach(
    shop: Shop, stamp: Stamp, to: Visit | InstrumentRecord, kind: str, name: str, content: bytes
) -> Attachment:
    """Store a photograph or recording under the name it had, and return its record.

    The bytes are on the disk before the record says so; interrupted between, they belong to nothing and are swept up.

    Raises:
        ChooseAnotherFileError: no photograph or recording by its name, no picture inside, empty or too large.
        BusyError: too many pictures are being made small.
        ShopOutOfReachError: it could not be stored.
    """
    media = MEDIA.get(kind, {}).get(Path(name).suffix.lower())
    if media is None:
        possible = (
            ", ".join(MEDIA[kind]) if kind in MEDIA else tr("a {kinds}", kinds=tr(" or a ").join(MEDIA))
        )
        raise ChooseAnotherFileError(
            tr("{name} is no {kind} by its name", name=name, kind=kind), possible, tr("choose another")
        )
    stored = put_blob(shop.folder, content, kind)
    if kind == "photograph":
        PICTURES.run(thumbnail, shop.folder, stored)
    visit_id = to.id if isinstance(to, Visit) else None
    instrument_id = to.instrument_id if isinstance(to, Visit) else to.id
    with shop.writing() as connection:
        if not blob_path(shop.folder, stored).exists():  # swept up since, as a file of no visit
            put_blob(shop.folder, content, kind)
        return add_record(
            connection, Attachment, stamp, instrument_id=instrument_id, visit_id=visit_id, kind=kind,
            name=Path(name).name, media_type=media, hash=stored, size_bytes=len(content),
        )  # fmt: skip


def attach_file(shop: Shop, stamp: Stamp, to: Visit | InstrumentRecord, kind: str, path: Path) -> Attachment:
    """Store the file at `path` as `attach` does.

    Raises:
        ChooseAnotherFileError: it cannot be read, or is none of what was asked for.
    """
    try:
        if path.stat().st_size > LARGEST_BYTES.get(kind, 0):
            raise ChooseAnotherFileError(
                tr("{path} is too large", path=path),
                tr("{largest_bytes:.0f} MB at most", largest_bytes=LARGEST_BYTES.get(kind, 0) / 1000000.0),
            )
        content = path.read_bytes()
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ChooseAnotherFileError(
            tr("{path} cannot be read: {reason}", path=path, reason=reason), "", tr("name another file")
        ) from cause
    return attach(shop, stamp, to, kind, path.name, content)


def content_of(shop: Shop, attachment: Attachment) -> bytes:
    """Return the bytes as they were stored.

    Raises:
        ShopDamagedError: they are missing or damaged.
    """
    return get_blob(shop.folder, attachment.hash)


def small_picture(shop: Shop, attachment: Attachment) -> bytes:
    """Return the photograph as a JPEG of at most 320 pixels a side.

    Raises:
        BusyError: too many pictures are being made small.
        ChooseAnotherFileError: it is no picture.
        ShopDamagedError: it is missing or damaged.
    """
    made = thumbnail_path(shop.folder, attachment.hash)
    return made.read_bytes() if made.exists() else PICTURES.run(thumbnail, shop.folder, attachment.hash)
