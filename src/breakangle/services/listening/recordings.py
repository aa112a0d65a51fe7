"""Recordings brought to a visit: heard first, kept as they came, their good takes added when a person says so."""

import tempfile
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from breakangle.listening.capture.decode import open_sound
from breakangle.listening.takes.reasons import Verdict
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.model.words.speech import tr
from breakangle.services.listening.buzzes import buzz_readings
from breakangle.services.listening.takes import Listened, NamedTake, heard_of, listen_to, readings_of
from breakangle.services.service_files.service import service_from
from breakangle.services.visits.entries import put_entry, sent_before, service_of, take_reading
from breakangle.services.visits.parsed_sheets import READING
from breakangle.services.visits.reading_places import place_of
from breakangle.services.workers.queue import LISTENING
from breakangle.services.workshop.attachments import attach, content_of
from breakangle.storage.records.answered import answer_key
from breakangle.storage.records.records import Attachment, Entry, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp

LONGEST_S = 3600.0
MOST_FILES = 20
REMEMBERED = 8
_HEARD: dict[str, Listened] = {}
_LOCK = threading.Lock()


@dataclass(frozen=True)
class Named:
    """A recording as it came: its file name and its bytes."""

    name: str
    content: bytes


def keep_recordings(
    shop: Shop, visit: Visit, stamp: Stamp, brought: Sequence[Named]
) -> tuple[Attachment, ...]:
    """Store the recordings as they came, once they were heard to hold sound, and return their records.

    Raises:
        ChooseAnotherFileError: none, too many, no sound in one, or longer than an hour.
        InstallError: a phone recording, and its reader is not installed.
        ShopOutOfReachError: they could not be stored.
    """
    if not 0 < len(brought) <= MOST_FILES or not all(one.name.strip() for one in brought):
        given = (
            tr("no recording was chosen")
            if not any(one.name for one in brought)
            else tr("too many recordings")
        )
        raise ChooseAnotherFileError(
            given, tr("1 to {most_files} at a time", most_files=MOST_FILES), tr("choose a recording")
        )
    service = service_of(shop, visit.id)
    heard_in(service, tuple(brought))
    return tuple(attach(shop, stamp, visit, "recording", one.name, one.content) for one in brought)


def recordings_of(shop: Shop, visit: Visit, keys: Iterable[str] | None = None) -> tuple[Attachment, ...]:
    """Return the visit's recordings, oldest first; of `keys`, those in their order.

    Raises:
        NoSuchRecordError: one of `keys` is no recording of this visit.
    """
    found = {one.id: one for one in shop.every(Attachment, visit_id=visit.id, kind="recording")}
    if keys is None:
        return tuple(found.values())
    wanted = tuple(keys)
    for key in wanted:
        if key not in found:
            raise NoSuchRecordError(
                tr("that recording is not on this sheet"), "", tr("choose one of the sheet's")
            )
    return tuple(found[key] for key in wanted)


def heard_again(shop: Shop, visit: Visit, recordings: Sequence[Attachment]) -> Listened:
    """Return what is heard in stored recordings, named as one row in their order.

    Raises:
        ShopDamagedError: one is missing or damaged.
    """
    brought = tuple(Named(one.name, content_of(shop, one)) for one in recordings)
    return heard_in(service_of(shop, visit.id), brought)


def heard_in(service: Service, brought: tuple[Named, ...]) -> Listened:
    """Return what is heard in recordings, named as one row; the last few answers are remembered."""
    bare = service.model_copy(update={"readings": ()})
    told = [bare.model_dump_json(exclude_unset=True)]
    told += [f"{one.name} {sha256(one.content).hexdigest()}" for one in brought]
    key = "\n".join(told)
    with _LOCK:
        if key in _HEARD:
            return _HEARD[key]
    heard = _heard(bare, brought)
    with _LOCK:
        _HEARD[key] = heard
        while len(_HEARD) > REMEMBERED:
            _HEARD.pop(next(iter(_HEARD)))
    return heard


def _heard(service: Service, brought: tuple[Named, ...]) -> Listened:
    with put_down(brought) as paths:
        return LISTENING.run(_listened, paths, service_text(service))


def _listened(paths: list[Path], text: str) -> Listened:
    """Return what is heard in recordings at these places; this is worked out in a process of its own."""
    with said_by_name(paths):
        return heard_at(paths, service_from(text.encode(), tr("service file")))


def heard_at(paths: list[Path], service: Service) -> Listened:
    """Return what is heard in recordings at these places.

    Raises:
        ChooseAnotherFileError: one cannot be read, or lasts longer than an hour, whatever it says of itself.
        InstallError: a phone recording, and its reader is not installed.
    """
    for path in paths:
        _not_too_long(path)
    return listen_to(paths, service, progress=_stop_if_too_long)


@contextmanager
def put_down(brought: Iterable[Named]) -> Iterator[list[Path]]:
    """Put recordings down as files, each in a folder of its own, as long as they are heard; yield their places."""
    with tempfile.TemporaryDirectory(prefix="breakangle-") as folder:
        paths = []
        for number, one in enumerate(brought):
            path = Path(folder) / str(number) / Path(one.name).name
            path.parent.mkdir()
            path.write_bytes(one.content)
            paths.append(path)
        yield paths


@contextmanager
def said_by_name(paths: Sequence[Path]) -> Iterator[None]:
    """Let an error name recordings as they were brought, not the places where they were put down.

    Raises:
        ChooseAnotherFileError: what was raised inside, so named.
    """
    try:
        yield
    except ChooseAnotherFileError as error:
        told = error.given
        for path in paths:
            told = told.replace(str(path), path.name)
        raise ChooseAnotherFileError(told, error.possible, error.remedy) from error


def _not_too_long(path: Path) -> None:
    """Refuse what lasts too long; what does not say how long it is, such as a stream, is counted."""
    sound = open_sound(path)
    if sound.length_s is not None:
        if sound.length_s > LONGEST_S:
            raise _too_long(path, tr("{length_s:.0f} minutes", length_s=sound.length_s / 60))
        return
    count = 0
    for block in sound.blocks():
        count += len(block)
        _stop_if_too_long(path, count / sound.rate_hz)


def _stop_if_too_long(path: Path, heard_s: float, length_s: float | None = None) -> None:
    """Refuse a recording of which more was heard than may be, whatever `length_s` it says of itself."""
    del length_s
    if heard_s > LONGEST_S:
        raise _too_long(path, tr("more than {longest_s:.0f} minutes", longest_s=LONGEST_S / 60))


def _too_long(path: Path, lasts: str) -> ChooseAnotherFileError:
    most = tr("at most {longest_s:.0f} minutes", longest_s=LONGEST_S / 60)
    return ChooseAnotherFileError(
        tr("{path_name} lasts {lasts}", path_name=path.name, lasts=lasts), most, tr("cut it")
    )


def can_be_added(take: NamedTake) -> bool:
    """Return whether a take may become a reading: it has a name and was not refused."""
    return take.name is not None and heard_of(take.take) is not None


def add_heard(
    shop: Shop, visit: Visit, heard: Listened, chosen: Iterable[int], stamp: Stamp, key: str
) -> tuple[Entry, ...]:
    """Store the good takes among the chosen ones, one reading a note, and return their entries.

    Sent again with the same `key`, no take is stored twice; takes chosen only then are stored as well.

    Raises:
        ChooseAnotherFileError: none of them is good and named.
    """
    numbers = set(chosen)
    takes = {number: one for number, one in enumerate(heard.takes) if number in numbers and _is_good(one)}
    if not takes:
        raise ChooseAnotherFileError(
            tr("none of these takes is good and named, so nothing was added"),
            tr("good takes of this instrument's strings"),
            tr("record again, one string at a time"),
        )
    with shop.writing() as connection:
        sent = {number: sent_before(connection, f"{key}-{number}", stamp) for number in takes}
        stored = {one.id: one for one in sent.values() if one is not None}
        fresh = [number for number, one in sent.items() if one is None]
        for reading in readings_of([takes[number] for number in fresh], 0):
            entry = put_entry(connection, visit.id, READING, reading, stamp)
            stored[entry.id] = entry
            for number in fresh:
                if _is_note(takes[number], reading):
                    answer_key(connection, f"{key}-{number}", entry.id)
    return tuple(stored.values())


def add_buzzes(
    shop: Shop, visit: Visit, heard: Listened, chosen: Iterable[int], stamp: Stamp, key: str
) -> tuple[Entry, ...]:
    """Store the buzz of the chosen takes as readings, where its crown is named, and return their entries.

    Sent again with the same `key`, nothing is stored twice.
    """
    numbers = set(chosen)
    takes = [one.buzz for number, one in enumerate(heard.takes) if number in numbers]
    return tuple(
        take_reading(shop, visit.id, reading, stamp, key=f"{key}-buzz-{at}")
        for at, reading in enumerate(buzz_readings(takes, 0))
    )


def _is_good(take: NamedTake) -> bool:
    """Return whether a take becomes a reading when it is chosen."""
    return can_be_added(take) and take.take.verdict is Verdict.GOOD


def _is_note(take: NamedTake, reading: Reading) -> bool:
    """Return whether the take is of the note that was read."""
    assert take.name is not None
    place = place_of(reading)
    return (take.name.string, take.name.fret, take.name.harmonic) == (
        place.string,
        place.fret,
        place.harmonic,
    )
