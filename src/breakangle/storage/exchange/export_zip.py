"""A whole-shop zip opened for reading: sizes within reason, files compared with their hashes, rows line by line."""

import json
import zipfile
import zlib
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Self

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.files.blobs import LARGEST_BYTES
from breakangle.storage.schema.plain import from_plain
from breakangle.storage.schema.tables import METADATA, PRIVATE

FORMAT, MANIFEST = "breakangle/shop/1", "manifest.json"
MOST_LINE_BYTES, MOST_MANIFEST_BYTES = 8_000_000, 64_000_000
MOST_FILES, MOST_TOTAL_BYTES = 200_000, 200_000_000_000
# Readings like each other pack about 30 to 1; what unpacks a thousandfold was made to.
MOST_RATIO, SMALL_BYTES = 200, 1_000_000
PART_BYTES = 1 << 20
Row = dict[str, Any]
BROKEN = (
    OSError,
    zipfile.BadZipFile,
    zlib.error,
    KeyError,
    ValueError,
    TypeError,
    AttributeError,
    EOFError,
    RecursionError,
    RuntimeError,  # a file in it wants a password, or is packed in a way that Python cannot unpack
)


class ExportZip:
    """One opened zip; `blobs` are the hashes of the recordings and photographs in it."""

    def __init__(self, path: Path, tables: tuple[str, ...]) -> None:
        """Open the zip at `path` and compare every file in it with its hash.

        Raises:
            ChooseAnotherFileError: no such zip, a damaged one, a later format, or one that unpacks beyond reason.
        """
        self.path = path
        opened = None
        try:
            opened = zipfile.ZipFile(path)
            self._zip = opened
            self._within_reason()
            self.manifest = self._checked()
        except BROKEN as cause:
            if opened is not None:
                opened.close()
            elif isinstance(cause, OSError):
                reason = (cause.strerror or str(cause)).lower()
                given = tr("{path} cannot be read: {reason}", path=path, reason=reason)
                raise ChooseAnotherFileError(given, "", tr("name another")) from cause
            raise self.refused() from cause
        except ChooseAnotherFileError:
            self._zip.close()
            raise
        named = self.manifest["sha256"]
        self.blobs = tuple(name[6:] for name in named if name.startswith("blobs/"))
        # What an earlier version did not know, its exports do not hold.
        self._held = {name for name in tables if f"{name}.jsonl" in named}

    def __enter__(self) -> Self:
        """Return the zip itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the file."""
        self._zip.close()

    def refused(self) -> ChooseAnotherFileError:
        """Return the error that says this is no export to use."""
        return ChooseAnotherFileError(
            tr("{path} is no whole-shop export, or is damaged", path=self.path), "", tr("name another")
        )

    def open(self, name: str) -> IO[bytes]:
        """Return one of the files in it to read."""
        return self._zip.open(name)

    def rows(self, name: str) -> Iterator[Row]:
        """Yield a table's rows; what is private is left out, whoever put it there.

        Raises:
            ChooseAnotherFileError: a line is no row.
        """
        if name not in self._held:
            return
        try:
            with self._zip.open(f"{name}.jsonl") as file:
                while line := file.readline(MOST_LINE_BYTES):
                    row = from_plain(METADATA.tables[name], json.loads(line))
                    if row.get("record_table") not in PRIVATE:
                        yield row
        except (*BROKEN, CorrectInputError, ArithmeticError) as cause:
            raise self.refused() from cause

    def counted(self) -> dict[str, int]:
        """Return how many rows of each table are really in it, read again line by line."""
        found: dict[str, int] = {}
        for name in sorted(self._held):
            with self._zip.open(f"{name}.jsonl") as file:
                found[name] = sum(1 for _ in file)
        return found

    def _within_reason(self) -> None:
        """Refuse what would fill the memory or the disk before a byte of it is unpacked."""
        infos = self._zip.infolist()
        packed, whole = sum(one.compress_size for one in infos), sum(one.file_size for one in infos)
        too_large = (
            len(infos) > MOST_FILES
            or whole > MOST_TOTAL_BYTES
            or packed > self.path.stat().st_size  # files that overlap
            or len({one.filename for one in infos}) < len(infos)
            or any(self._swollen(one) for one in infos)
        )
        if too_large:
            given = tr(
                "{path} would unpack to {whole:.1f} GB in a way no export does",
                path=self.path,
                whole=whole / 1000000000.0,
            )
            raise ChooseAnotherFileError(given, tr("nothing was unpacked"), tr("name another"))

    def _swollen(self, info: zipfile.ZipInfo) -> bool:
        if info.filename.startswith("blobs/"):
            return info.file_size > max(LARGEST_BYTES.values()) or info.compress_type != zipfile.ZIP_STORED
        if info.filename == MANIFEST and info.file_size > MOST_MANIFEST_BYTES:
            return True
        return info.file_size > max(SMALL_BYTES, MOST_RATIO * info.compress_size)

    def _checked(self) -> dict[str, Any]:
        """Return the manifest after comparing every file it names with its hash."""
        told: dict[str, Any] = json.loads(self._zip.read(MANIFEST))
        if told["format"] != FORMAT:
            given = tr("{path} has the format {format}", path=self.path, format=told["format"])
            raise ChooseAnotherFileError(
                given, tr("this program reads {format}", format=FORMAT), tr("update Breakangle")
            )
        for name, wanted in told["sha256"].items():
            digest = sha256()
            with self._zip.open(name) as file:
                while part := file.read(PART_BYTES):
                    digest.update(part)
            if digest.hexdigest() != wanted or (name.startswith("blobs/") and name[6:] != wanted):
                raise ChooseAnotherFileError(
                    tr("{name} in {path} is damaged", name=name, path=self.path),
                    "",
                    tr("name another export"),
                )
        return told
