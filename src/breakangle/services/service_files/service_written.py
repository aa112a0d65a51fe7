"""A service file written: whole or not at all."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.model.words.speech import tr


def write_service(path: str | os.PathLike[str], service: Service) -> None:
    """Write the service to `path`, whole or not at all: an old file stands until the new one is complete.

    Raises:
        ChooseAnotherFileError: the place cannot be written.
    """
    target = Path(path).resolve()
    try:
        number, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    except OSError as cause:
        raise _unwritable(target, cause) from cause
    try:
        with os.fdopen(number, "w", encoding="utf-8") as file:
            file.write(service_text(service))
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(_permissions(target))
        Path(name).replace(target)
    except OSError as cause:
        raise _unwritable(target, cause) from cause
    finally:
        with suppress(FileNotFoundError):
            Path(name).unlink()


def _unwritable(path: Path, cause: OSError) -> ChooseAnotherFileError:
    reason = (cause.strerror or tr("cannot be written")).lower()
    return ChooseAnotherFileError(
        tr("{path} cannot be written: {reason}", path=path, reason=reason), "", tr("name another place")
    )


def _permissions(target: Path) -> int:
    """Return the old file's permissions, or what a new file gets here."""
    with suppress(OSError):
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
