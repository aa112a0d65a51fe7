"""What a job is done on: one item each, named, with its content and the hash of it.

A name is what a person would call the item by: a file's path below the folder that was named, a shop's sheet number, a
row of a Parquet set. Names are the order of everything that follows, so the same set gives the same table.
"""

import hashlib
import sys
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.model.service import Service
    from breakangle.storage.records.store import Shop

SERVICES = (".json",)
SOUNDS = (".wav", ".flac", ".mp3", ".ogg", ".opus", ".aiff", ".aif", ".caf", ".m4a", ".3gp", ".webm", ".amr")
PARQUET = (".parquet",)
NAME_COLUMN, CONTENT_COLUMN = "item", "service"
ABOUT, PARTS = (
    "fleet.json",
    "parts",
)  # in a folder of answers: what made them, and where they are kept as they come
BLOCK_BYTES = 1 << 20
FASTEST = 1  # of zlib's levels: a service file goes into a sixth of its size in a fortieth of a millisecond


@dataclass(frozen=True, init=False, slots=True)
class Item:
    """One thing to work on; its content is held packed, so that a million of them fit into one process.

    Attributes:
        name: what results are listed by.
        sha256: the content's hash, as hexadecimal text.
        path: the file a worker reads, for what is too large to be sent.
        make: whose instrument it is, and `year`, when it was made; empty where nobody told.
        year: as `make`.
        unread: why its content could not be read, as a sentence; empty where it was.
    """

    name: str
    sha256: str
    path: str
    make: str
    year: str
    unread: str
    _packed: bytes
    _packed_earlier: tuple[bytes, ...]

    def __init__(
        self,
        name: str,
        sha256: str,
        content: bytes = b"",
        path: str = "",
        make: str = "",
        year: str = "",
        earlier: Sequence[bytes] = (),
        unread: str = "",
    ) -> None:
        values = {"name": name, "sha256": sha256, "path": path, "make": make, "year": year}
        for field, value in {**values, "unread": unread}.items():
            object.__setattr__(self, field, value)
        object.__setattr__(self, "_packed", zlib.compress(content, FASTEST) if content else b"")
        object.__setattr__(self, "_packed_earlier", tuple(zlib.compress(one, FASTEST) for one in earlier))

    @property
    def content(self) -> bytes:
        """Return the bytes themselves; none where `path` leads to them."""
        return zlib.decompress(self._packed) if self._packed else b""

    @property
    def earlier(self) -> tuple[bytes, ...]:
        """Return the same instrument's earlier visits, oldest first, where they are known."""
        return tuple(map(zlib.decompress, self._packed_earlier))

    def earlier_services(self) -> "tuple[Service, ...]":
        """Return the earlier visits as services, oldest first.

        Raises:
            ChooseAnotherFileError, ServiceFileError: one that is no service.
        """
        from breakangle.services.service_files.service import service_from

        return tuple(service_from(one, self.name) for one in self.earlier)


def items_of(places: Sequence[str | Path], endings: Sequence[str] = SERVICES) -> list[Item]:
    """Return the items in files, folders (all the way down) and Parquet sets, in the order of their names.

    Args:
        places: paths; a folder gives every file below it with one of the endings.
        endings: which files a folder gives: `SERVICES` or `SOUNDS`.

    Raises:
        ChooseAnotherFileError: a place that is not there or cannot be read, or two items of one name.
    """
    found = [item for place in places for item in _in_place(Path(place), tuple(endings))]
    if not found:
        named = ", ".join(str(place) for place in places)
        raise ChooseAnotherFileError(
            tr("nothing to work on in {named}", named=named),
            tr("files ending in {endings}", endings=", ".join(endings)),
        )
    return in_order(found)


def items_in_shop(shop: "Shop", every_visit: bool = False) -> list[Item]:
    """Return every instrument of a shop as its latest visit has it, or as each visit has it, by sheet number.

    The latest visit brings the earlier ones of the same instrument, as many as count, and hangs on them; those with
    another number of strings or frets tell nothing of it, and are left out.
    """
    from breakangle.model.service_file import service_text
    from breakangle.planning.estimate.learning import of_same_shape
    from breakangle.services.history.learning import earlier_services
    from breakangle.services.visits.entries import service_of
    from breakangle.storage.records.records import Visit

    visits = sorted(shop.every(Visit), key=lambda one: (one.opened_at, one.number))
    wanted = visits if every_visit else {visit.instrument_id: visit for visit in visits}.values()
    found = []
    for visit in wanted:
        service = service_of(shop, visit.id)
        content = service_text(service).encode()
        before = () if every_visit else of_same_shape(earlier_services(shop, visit), service)
        earlier = [service_text(one).encode() for one in before]
        digest = _hash(content if not earlier else "\0".join(map(_hash, (content, *earlier))).encode())
        found.append(Item(sheet_name(visit.number), digest, content, earlier=earlier))
    return in_order(found)


def with_makes(items: Sequence[Item], table: str | Path) -> list[Item]:
    """Return items with the make and year that a table names; both count in their hashes, as what they hang on.

    Raises:
        ChooseAnotherFileError: no such table, or without the columns `item` and `make`.
        CorrectInputError: items that it does not have.
    """
    from breakangle.services.history.makes_table import makes_listed

    whose = makes_listed(table, [one.name for one in items])
    found = []
    for one in items:
        make, year = whose[one.name].make, whose[one.name].year
        digest = _hash("\0".join((one.sha256, make, year)).encode())
        found.append(Item(one.name, digest, one.content, one.path, make, year, one.earlier, one.unread))
    return found


def listed_in(path: str | Path) -> list[str]:
    """Return the places that a text file names, one a line; `-` is the standard input.

    Raises:
        ChooseAnotherFileError: it cannot be read.
    """
    try:
        text = sys.stdin.read() if str(path) == "-" else Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as cause:
        raise ChooseAnotherFileError(
            tr("{path} cannot be read as a list of files", path=path), tr("text in UTF-8, a file a line")
        ) from cause
    return [line for line in text.splitlines() if line.strip()]


def sheet_name(number: int) -> str:
    """Return what a shop's visit is called by among items."""
    key = f"sheet {number:07d}"
    return key  # noqa: RET504


def in_order(items: Iterable[Item]) -> list[Item]:
    """Return items by name.

    Raises:
        ChooseAnotherFileError: two of one name.
    """
    found = sorted(items, key=lambda one: one.name)
    for one, after in pairwise(found):
        if one.name == after.name:
            raise ChooseAnotherFileError(
                tr("{name} is named twice", name=one.name),
                tr("every item has a name of its own"),
                tr("name one file once, and of files in two folders the folder that holds both"),
            )
    return found


def _in_place(place: Path, endings: tuple[str, ...]) -> Iterator[Item]:
    if place.suffix.lower() in PARQUET:
        for path in sorted(place.rglob("*.parquet")) if place.is_dir() else [place]:
            yield from _in_parquet(path)
    elif place.is_dir():
        for path in sorted(place.rglob("*")):
            if path.suffix.lower() in endings and path.is_file() and not _of_a_run(path):
                yield _in_folder(path, path.relative_to(place), endings)
    else:
        try:
            yield _of_file(place, _text_of(place), endings)
        except OSError as cause:
            raise ChooseAnotherFileError(
                _cannot_be_read(str(place), cause), "", tr("name another")
            ) from cause


def _of_a_run(path: Path) -> bool:
    """Return whether a file says which run made a folder of answers: it is no instrument."""
    return path.name == ABOUT and path.with_name(PARTS).is_dir()


def _in_folder(path: Path, below: Path, endings: tuple[str, ...]) -> Item:
    """Return the item of a file that nobody named by itself: one that cannot be read is that item's failure."""
    name = _text_of(below)
    try:
        return _of_file(path, name, endings)
    except OSError as cause:
        return Item(name, _hash(b""), unread=_cannot_be_read(name, cause))


def _of_file(path: Path, name: str, endings: tuple[str, ...]) -> Item:
    from breakangle.services.service_files.service import LARGEST_FILE_BYTES

    if endings == SOUNDS:
        return Item(name, _hash_of_file(path), path=str(path.resolve()))
    with path.open("rb") as file:
        content = file.read(LARGEST_FILE_BYTES + 1)  # more is refused by who works on it, and not held
    return Item(name, _hash(content) if len(content) <= LARGEST_FILE_BYTES else _hash_of_file(path), content)


def _text_of(path: Path) -> str:
    """Return a path as text; bytes of it that are no UTF-8 as `\\xff`, so that it can be written into a table."""
    return path.as_posix().encode(errors="surrogateescape").decode(errors="backslashreplace")


def _cannot_be_read(name: str, cause: OSError) -> str:
    why = (cause.strerror or str(cause)).lower()
    return tr("{path} cannot be read: {why}", path=name, why=why)


def _in_parquet(place: Path) -> Iterator[Item]:
    """Give the items of a Parquet file: a column `item` with names, a column `service` with service files.

    Raises:
        ChooseAnotherFileError: it is no Parquet file, or lacks a column.
    """
    from breakangle.fleet.needs import parquet

    try:
        file = parquet().ParquetFile(place)
        missing = {NAME_COLUMN, CONTENT_COLUMN} - set(file.schema_arrow.names)
        if missing:
            raise ChooseAnotherFileError(
                tr("{place} has no column {missing}", place=place, missing=", ".join(sorted(missing))),
                tr(
                    "`{name_column}` (text) names each row and `{content_column}` (text) holds its "
                    "service file",
                    name_column=NAME_COLUMN,
                    content_column=CONTENT_COLUMN,
                ),
            )
        for batch in file.iter_batches(columns=[NAME_COLUMN, CONTENT_COLUMN], batch_size=1000):
            for row in batch.to_pylist():
                content = _bytes_in(row[CONTENT_COLUMN], place)
                yield Item(str(row[NAME_COLUMN]), _hash(content), content)
    except (OSError, ValueError) as cause:  # pyarrow's own errors are ValueErrors
        raise ChooseAnotherFileError(
            tr("{place} is not a Parquet file that can be read: {cause}", place=place, cause=cause)
        ) from cause


def _bytes_in(value: object, place: Path) -> bytes:
    """Return the bytes of a service file in a row; none where the row has none."""
    if isinstance(value, bytes):
        return value
    if not isinstance(value, str | None):
        raise ChooseAnotherFileError(
            tr("{place}: the column {column} does not hold text", place=place, column=CONTENT_COLUMN),
            tr("each row holds the text of a service file"),
        )
    return (value or "").encode()


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _hash_of_file(path: Path) -> str:
    found = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(BLOCK_BYTES):
            found.update(block)
    return found.hexdigest()
