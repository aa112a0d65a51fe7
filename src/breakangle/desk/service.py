"""One service from its file: read it, plan it, write it. The same functions for a terminal and for Python."""

import json
import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import numpy as np

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError, ReadAgainError
from breakangle.model.instrument import Instrument, String
from breakangle.model.json_text import shown
from breakangle.model.noun import Noun
from breakangle.model.plan import Plan
from breakangle.model.service import Service, Targets, unknown_keys
from breakangle.model.service_file import ServiceFileError, parse_service, service_schema, service_text
from breakangle.planning.board import board_of
from breakangle.planning.estimate import Estimate, estimate
from breakangle.planning.learn import recall
from breakangle.planning.plan import plan
from breakangle.planning.readings.pitch import FARTHEST_CENTS, Pitch, nominal_ratio
from breakangle.planning.registry import file_kinds
from breakangle.tables.families import HANDS, families
from breakangle.tables.rows import look_up
from breakangle.tables.strings import makes, wraps

LARGEST_FILE_BYTES = 8_000_000


def read_service(path: str | os.PathLike[str]) -> Service:
    """Return the service in the file at `path`; what it does not know is kept, and listed by `unknown`.

    Raises:
        ChooseAnotherFileError: missing, a folder, unreadable, larger than 8 MB, not UTF-8, not JSON, or of
            another format or version.
        ServiceFileError: values that cannot be right, each with JSON path, value and what is allowed.
    """
    return service_from(_file_bytes(Path(path)), str(path))


def service_from(content: bytes, source: str) -> Service:
    """Return the service in `content`, the bytes of a service file that came from `source`.

    Raises:
        ChooseAnotherFileError: larger than 8 MB, not UTF-8, not JSON, or of another format or version.
        ServiceFileError: values that cannot be right, each with JSON path, value and what is allowed.
    """
    if len(content) > LARGEST_FILE_BYTES:
        raise _too_large(source, "more")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        possible = "a service file is JSON in UTF-8"
        raise ChooseAnotherFileError(
            f"{source} is not text in UTF-8", possible, "name another file"
        ) from cause
    service = parse_service(text, file_kinds(), source)
    problems = list(_unheard_names(service)) or list(_far_pitches(service))
    if problems:
        raise ServiceFileError(problems, source)
    return service


def unknown(service: Service) -> tuple[str, ...]:
    """Return the JSON path of every key in the service that this program does not know; they are kept."""
    return tuple(unknown_keys(service))


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


def estimate_service(service: Service, earlier: Sequence[Service] = ()) -> Estimate:
    """Return the most probable state of the service's instrument now, with what is still uncertain.

    Args:
        service: instrument, readings and the work done so far.
        earlier: the same instrument's earlier visits, oldest first: what its neck does is learned from them.

    Raises:
        CorrectInputError: an earlier visit of an instrument with other strings or frets.
        ReadAgainError: readings that no instrument fits.
    """
    if not earlier:
        with some_instrument_fits():
            return estimate(service)
    here = service.instrument
    for visit in earlier:
        there = visit.instrument
        if (len(there.strings), there.frets) != (len(here.strings), here.frets):
            shape = f"{len(there.strings)} strings and {there.frets} frets"
            given = f"the earlier visit of {shown(there.name)} has {shape}"
            possible = f"this instrument has {len(here.strings)} and {here.frets}"
            raise CorrectInputError(given, possible, "leave that file out")
    with some_instrument_fits():
        return estimate(service, prior=recall(earlier, service))


@contextmanager
def some_instrument_fits() -> Iterator[None]:
    """Turn a solution that runs away (a stretched string with no tension left, say) into its cause.

    Raises:
        ReadAgainError: the numbers ran away.
    """
    try:
        with np.errstate(divide="raise", invalid="raise", over="raise"):
            yield
    except (FloatingPointError, np.linalg.LinAlgError) as cause:
        given = "the readings contradict each other so far that no instrument fits them"
        raise ReadAgainError(
            given, "", "take those again that are farthest from what you expected"
        ) from cause


def plan_service(
    service: Service,
    hand: str | None = None,
    earlier: Sequence[Service] = (),
    no_buzz_at: str | None = None,
) -> Plan:
    """Return the plan: the fewest adjustments in order, what each should do and why.

    Args:
        service: instrument, readings and the work done so far.
        hand: `light`, `medium` or `heavy`, for the house's targets for another hand than the file's.
        earlier: the same instrument's earlier visits, oldest first.
        no_buzz_at: `light`, `medium` or `heavy`: no string may touch a crown when it is played so.

    Raises:
        CorrectInputError: what the tables or the planner cannot work with.
        ReadAgainError: readings that no instrument fits.
    """
    service = _asked_for(service, "no_buzz_at", no_buzz_at)
    service = for_hand(service, hand)
    now = estimate_service(service, earlier)
    with some_instrument_fits():
        return plan(service, now)


def schema_text() -> str:
    """Return the JSON Schema (2020-12) of the service file as text."""
    return json.dumps(service_schema(file_kinds()), indent=2, ensure_ascii=False) + "\n"


def for_hand(service: Service, hand: str | None) -> Service:
    """Return the service with the house's targets for `hand`; single wishes stay. None: as it is.

    Raises:
        CorrectInputError: not light, medium or heavy.
    """
    return _asked_for(service, "hand", hand)


def _asked_for(service: Service, key: str, strength: str | None) -> Service:
    """Return the service with `key` of its targets set to a strength of hand; None: as it is."""
    if strength is None:
        return service
    look_up("hand", strength, dict.fromkeys(HANDS))
    asked = service.targets or Targets()
    return service.model_copy(update={"targets": asked.model_copy(update={key: strength})})


def _file_bytes(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE_BYTES:
            raise _too_large(str(path), f"{size / 1e6:.0f} MB")
        with path.open("rb") as file:
            return file.read(LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as cause:
        reason = (getattr(cause, "strerror", None) or str(cause)).lower()
        raise ChooseAnotherFileError(f"{path} cannot be read: {reason}", "", "name another file") from cause


def _too_large(source: str, size: str) -> ChooseAnotherFileError:
    possible = f"a service file has at most {LARGEST_FILE_BYTES / 1e6:.0f} MB"
    return ChooseAnotherFileError(f"{source} is too large: {size}", possible, "name another file")


def _unwritable(path: Path, cause: OSError) -> ChooseAnotherFileError:
    reason = (cause.strerror or "cannot be written").lower()
    return ChooseAnotherFileError(f"{path} cannot be written: {reason}", "", "name another place")


def _permissions(target: Path) -> int:
    """Return the old file's permissions, or what a new file gets here."""
    with suppress(OSError):
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _unheard_names(service: Service) -> Iterator[str]:
    """Yield a complaint for every name of a kind, make or wrap that the tables do not have."""
    for path, noun in _nouns(service, "$"):
        if isinstance(noun, Instrument) and noun.kind not in families():
            yield _unheard(f"{path}.kind", noun.kind, families())
        if isinstance(noun, String):
            if noun.make not in makes():
                yield _unheard(f"{path}.make", noun.make, makes())
            if noun.wrap is not None and noun.wrap not in wraps():
                yield _unheard(f"{path}.wrap", noun.wrap, wraps())


def _unheard(path: str, value: str, known: tuple[str, ...]) -> str:
    return f"{path} is {shown(value)}; it must be one of {', '.join(known)}"


def _far_pitches(service: Service) -> Iterator[str]:
    """Yield a complaint for every frequency that is too far from its note to be of that string and fret."""
    instrument, reach = service.instrument, 2.0 ** (FARTHEST_CENTS / 1200.0)
    for stage in range(len(service.work) + 1):
        for index, reading in enumerate(service.readings):
            if isinstance(reading, Pitch) and reading.hz is not None and reading.after == stage:
                board = board_of(instrument, service.reference_hz)
                note_hz = float(board.hz[reading.string - 1]) * nominal_ratio(reading, board)
                if not note_hz / reach <= reading.hz <= note_hz * reach:
                    allowed = (
                        f"a number from {note_hz / reach:.2f} to {note_hz * reach:.2f} Hz, near its note"
                    )
                    yield f"$.readings[{index}].hz is {shown(reading.hz)}; it must be {allowed}"
        if stage < len(service.work):
            instrument = service.work[stage].changed_instrument(instrument)


def _nouns(value: Any, path: str) -> Iterator[tuple[str, Noun]]:
    if isinstance(value, Noun):
        yield path, value
        for key in type(value).model_fields:
            yield from _nouns(getattr(value, key), f"{path}.{key}")
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from _nouns(item, f"{path}[{index}]")
