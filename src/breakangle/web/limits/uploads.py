"""A file that was sent: read into memory only when it is small enough to be stored."""

from fastapi import UploadFile

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr
from breakangle.storage.files.blobs import LARGEST_BYTES


def read_upload(upload: UploadFile, kind: str) -> bytes:
    """Return the bytes of a photograph or recording.

    Raises:
        ChooseAnotherFileError: it is larger than one may be; nothing of it was read.
    """
    most, size = LARGEST_BYTES[kind], upload.size or 0
    if size > most:
        given = tr("this {kind} has {size:.1f} MB", kind=kind, size=size / 1000000.0)
        raise ChooseAnotherFileError(
            given, tr("at most {most:.0f} MB", most=most / 1000000.0), tr("choose another")
        )
    return upload.file.read()
