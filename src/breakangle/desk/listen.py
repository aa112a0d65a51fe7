"""Listening to recordings: takes found, judged, named, combined into intonation, and added to a service
file."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from breakangle.listening.decode import Sound, open_sound
from breakangle.listening.intonation import Heard, Intonation, intonation, middle
from breakangle.listening.naming import Asked, Name, OpenString, name_row
from breakangle.listening.reasons import Verdict
from breakangle.listening.settling import Settling, settling
from breakangle.listening.stream import Take, TakeJudged, listen
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.pitch import note_hz
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.planning.registry import reading_kinds

Progress = Callable[[Path, float, float | None], None]


@dataclass(frozen=True)
class NamedTake:
    """One take of one file with its name, where it could be named."""

    path: Path
    take: Take
    name: Name | None


@dataclass(frozen=True)
class StringIntonation:
    """A string's intonation at its twelfth fret."""

    string: int
    intonation: Intonation


@dataclass(frozen=True)
class Listened:
    """All that was heard in one or more files, in the order given."""

    takes: tuple[NamedTake, ...]
    intonation: tuple[StringIntonation, ...]


def open_strings(instrument: Instrument, reference_hz: float) -> list[OpenString]:
    """The instrument's strings as listening knows them."""
    return [
        OpenString(one.string, note_hz(one.note, reference_hz), instrument.frets, one.nut_at_fret)
        for one in instrument.in_order()
    ]


def listen_to(
    paths: Sequence[Path],
    service: Service | None = None,
    string: int | None = None,
    asked: Sequence[Asked] | None = None,
    progress: Progress | None = None,
) -> Listened:
    """Takes of all files, named as one row, and the intonation of every string that was heard whole.

    Args:
        paths: recordings, in the order played.
        service: whose instrument was played; without it takes have no names.
        string: the one string that was played, where that is known.
        asked: what was asked for, in order, where something was.
        progress: told file, seconds done and length in seconds, now and then.

    Raises:
        ChooseAnotherFileError: a file cannot be read.
        CorrectInputError: the instrument has no such string.
        InstallError: a phone recording, and its reader is not installed.
    """
    strings = _strings(service, string)
    found: list[tuple[Path, Take]] = []
    for path in paths:
        sound = open_sound(path)
        found += [(path, take) for take in _takes(sound, progress)]
    hz = [take.pitch.law.partial_one_hz if take.pitch is not None else None for _, take in found]
    names = name_row(hz, strings, asked)
    takes = tuple(NamedTake(path, take, name) for (path, take), name in zip(found, names, strict=True))
    return Listened(takes, intonation_of(takes, strings))


def _strings(service: Service | None, string: int | None) -> list[OpenString]:
    """The strings to choose names from."""
    if service is None:
        return []
    strings = open_strings(service.instrument_now(), service.reference_hz)
    if string is None:
        return strings
    chosen = [one for one in strings if one.number == string]
    if not chosen:
        raise CorrectInputError(
            f"string {string}", f"this instrument has strings 1 to {len(strings)}", "name one of them"
        )
    return chosen


def _takes(sound: Sound, progress: Progress | None) -> Iterator[Take]:
    """Takes of one file, block by block."""

    def blocks() -> Iterator[Any]:
        done = 0
        for block in sound.blocks():
            yield block
            done += len(block)
            if progress is not None:
                progress(sound.path, done / sound.rate_hz, sound.length_s)

    for event in listen(blocks(), sound.rate_hz):
        if isinstance(event, TakeJudged):
            yield event.take


def heard_of(take: Take) -> Heard | None:
    """What combining needs of a take; None when it was refused."""
    if take.pitch is None or take.verdict is Verdict.REFUSED:
        return None
    law = take.pitch.law
    return Heard(law.partial_one_hz, take.pitch.uncertainty_cents, law.fundamental_hz, law.inharmonicity)


def intonation_of(takes: Sequence[NamedTake], strings: Sequence[OpenString]) -> tuple[StringIntonation, ...]:
    """Intonation of every string with a fretted octave and something to hold it to; refused takes are left
    out."""
    found = []
    for one in strings:
        groups: dict[str, list[Heard]] = {"open": [], "harmonic": [], "fretted": []}
        for each in takes:
            heard = heard_of(each.take)
            if heard is None or each.name is None or each.name.string != one.number:
                continue
            if each.name.harmonic == 2:
                groups["harmonic"].append(heard)
            elif each.name.harmonic is None and each.name.fret in (0, one.octave_fret):
                groups["open" if each.name.fret == 0 else "fretted"].append(heard)
        figure = intonation(groups["open"], groups["harmonic"], groups["fretted"])
        if figure is not None:
            found.append(StringIntonation(one.number, figure))
    return tuple(found)


def readings_of(takes: Sequence[NamedTake], after: int) -> list[Reading]:
    """Pitch readings for a service file: good takes only, one for each note, the median where there are
    several."""
    kind = reading_kinds()["pitch"].model
    groups: dict[tuple[int, int, int | None], list[Heard]] = {}
    for each in takes:
        heard = heard_of(each.take)
        if each.name is not None and heard is not None and each.take.verdict is Verdict.GOOD:
            key = (each.name.string, each.name.fret, each.name.harmonic)
            groups.setdefault(key, []).append(heard)
    readings = []
    for (string, fret, harmonic), notes in groups.items():
        centre = middle(notes)
        value: dict[str, Any] = {
            "string": string,
            "fret": fret,
            "hz": round(centre.hz, 4),
            "uncertainty_cents": round(centre.uncertainty_cents, 2),
        }
        if harmonic is not None:
            value["harmonic"] = harmonic
        if after:
            value["after"] = after
        readings.append(kind(**value))
    return readings


def add_readings(service: Service, takes: Sequence[NamedTake]) -> tuple[Service, int]:
    """The service with the good takes added as pitch readings, all else kept; and how many were added.

    Raises:
        CorrectInputError: no take is good and named.
    """
    readings = readings_of(takes, len(service.work))
    if not readings:
        raise CorrectInputError(
            "no take is both good and named, so nothing was added",
            "good takes of this instrument's strings can be added",
            "record again, one string at a time",
        )
    return service.model_copy(update={"readings": (*service.readings, *readings)}), len(readings)


def settling_of(takes: Sequence[NamedTake], tolerance_cents: float) -> Settling:
    """How one string settles, each take plucked after one more stretch."""
    heard = [heard_of(each.take) for each in takes]
    return settling([[one.partial_one_hz] for one in heard if one is not None], tolerance_cents)
