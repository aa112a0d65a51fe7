"""A file that was sent: read into memory only when it is small enough to be stored."""

from fastapi import UploadFile

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.storage.files.blobs import LARGEST_BYTES


def read_upload(upload: UploadFile, kind: str) -> bytes:
    """Return the bytes of a photograph or recording.

    Raises:
        ChooseAnotherFileError: it is larger than one may be; nothing of it was read.
    """
    most, size = LARGEST_BYTES[kind], upload.size or 0
    if size > most:
        given = f"this {kind} has {size / 1e6:.1f} MB"
        raise ChooseAnotherFileError(given, f"at most {most / 1e6:.0f} MB", "choose another")
    return upload.file.read()
