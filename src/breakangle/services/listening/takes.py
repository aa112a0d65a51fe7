"""Listening to recordings: takes found, judged, named, combined into intonation, and added to a service
file."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from breakangle.listening.capture.decode import Sound, open_sound
from breakangle.listening.naming.intonation import (
    Heard,
    Intonation,
    apart_words,
    intonation,
    middle,
    octave_from_open,
)
from breakangle.listening.naming.naming import KINDS, Asked, Name, OpenString, name_row
from breakangle.listening.naming.octaves import Kind, Note, untold
from breakangle.listening.pitch.measure import Pitch
from breakangle.listening.stream import Take, TakeJudged, listen
from breakangle.listening.takes.reasons import Verdict, reason
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.pitch import note_hz
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.services.listening.buzzes import HeardBuzz, buzz_readings, heard_buzz
from breakangle.services.listening.loudness import StringLoudness, loudness_of
from breakangle.services.listening.named_string import high_enough, kind_of, of_the_course, of_the_named
from breakangle.services.listening.strokes import PlayedStroke, board_for, played_stroke

Progress = Callable[[Path, float, float | None], None]
ONLY_IF = mark(
    "harmonic and fretted note cannot be told apart here: this holds only if each is what it is called"
)


@dataclass(frozen=True)
class NamedTake:
    """One take of one file with its name, where it could be named."""

    path: Path
    take: Take
    name: Name | None
    stroke: PlayedStroke | None = None
    buzz: HeardBuzz | None = None


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
    loudness: tuple[StringLoudness, ...] = ()


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
    told: Sequence[Kind] | None = None,
) -> Listened:
    """Takes of all files, named as one row, and the intonation of every string that was heard whole.

    Args:
        paths: recordings, in the order played.
        service: whose instrument was played; without it takes have no names.
        string: the one string that was played, where that is known.
        asked: what was asked for, in order, where something was.
        progress: told file, seconds done and length in seconds, now and then.
        told: what was played of each string, in that order (string by string or in rounds), where somebody said.

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
    found = [(path, high_enough(take, strings)) for path, take in found]
    laws = [None if take.pitch is None else _heard(take.pitch) for _, take in found]
    hz = [None if law is None else law.partial_one_hz for law in laws]
    octaves = [None if law is None else octave_from_open([law]).hz for law in laws]
    names = name_row(hz, strings, asked, octaves_hz=octaves, told=told)
    takes = [NamedTake(path, take, name) for (path, take), name in zip(found, names, strict=True)]
    if not asked and not told:
        takes = _doubted(takes, strings)
    if service is not None and string is not None:
        every = _strings(service, None)
        takes = [replace(one, take=of_the_named(one.take, one.name, string, every)) for one in takes]
    if service is not None:
        takes = _with_playing(takes, service)
    named = [(one.take.pitch, one.name, one.stroke) for one in takes]
    loudness = () if service is None else loudness_of(named, board_for(service))
    return Listened(*_agreeing(takes, strings), loudness)


def _with_playing(takes: Sequence[NamedTake], service: Service) -> list[NamedTake]:
    """The takes with how hard each was plucked, and where it buzzes."""
    board, told, instrument = board_for(service), [], service.instrument_now()
    for given in takes:
        one = replace(given, take=of_the_course(given.take, given.name, instrument))
        stroke = played_stroke(one.take.pitch, one.name, service, board)
        told.append(replace(one, stroke=stroke, buzz=heard_buzz(one.take, one.name, stroke, service, board)))
    return told


def kinds_told(words: str) -> tuple[Kind, ...]:
    """What was played of each string, from words such as `open, fretted, harmonic`.

    Raises:
        CorrectInputError: a word that is none of these, or one twice.
    """
    found = tuple(kind for word in words.split(",") for kind in KINDS if kind == word.strip().lower())
    if len(found) != len(words.split(",")) or len(set(found)) != len(found):
        raise CorrectInputError(
            tr('the order "{words}"', words=words),
            tr("each at most once, of {kinds}", kinds=", ".join(KINDS)),
            tr("such as open,fretted"),
        )
    return found


def _doubted(takes: Sequence[NamedTake], strings: Sequence[OpenString]) -> list[NamedTake]:
    """The takes, those doubted whose name neither the sound nor the order of playing tells."""
    notes: dict[int, list[Note]] = {one.number: [] for one in strings}
    for each in takes:
        kind, heard = kind_of(each.name, strings), heard_of(each.take)
        if each.name is not None and kind is not None and heard is not None:
            notes[each.name.string].append((kind, heard))
    numbers = [number for number, found in notes.items() if found]
    unsure = {n for n, doubt in zip(numbers, untold([notes[n] for n in numbers]), strict=True) if doubt}

    def doubtful(name: Name) -> bool:
        kind = kind_of(name, strings)
        # Any other fret may as well be one of the next string.
        return len(strings) > 1 if kind is None else kind != "open" and name.string in unsure

    return [
        replace(each, take=each.take.doubted(reason("which-note", False)))
        if each.name is not None and doubtful(each.name)
        else each
        for each in takes
    ]


def _agreeing(
    takes: Sequence[NamedTake], strings: Sequence[OpenString]
) -> tuple[tuple[NamedTake, ...], tuple[StringIntonation, ...]]:
    """The takes, all of a string doubted whose open note and harmonic contradict each other; and intonation."""
    groups = {one.number: _groups(takes, one) for one in strings}
    apart = {number: apart_words(found["open"], found["harmonic"]) for number, found in groups.items()}
    moved = {number for number, words in apart.items() if words is not None}
    doubted = tuple(
        replace(each, take=each.take.doubted(reason("moved", False)))
        if each.name is not None and each.name.string in moved
        else each
        for each in takes
    )
    return doubted, intonation_of(doubted, strings)


def _strings(service: Service | None, string: int | None) -> list[OpenString]:
    """The strings to choose names from."""
    if service is None:
        return []
    strings = open_strings(service.instrument_now(), service.reference_hz)
    if string is None:
        return strings
    chosen = [one for one in strings if one.number == string]
    if not chosen:
        has = tr("this instrument has strings 1 to {strings_count}", strings_count=len(strings))
        raise CorrectInputError(tr("string {string}", string=string), has, tr("name one of them"))
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
    return _heard(take.pitch)


def _heard(pitch: Pitch) -> Heard:
    law = pitch.law
    return Heard(law.partial_one_hz, pitch.uncertainty_cents, law.fundamental_hz, law.inharmonicity)


def _groups(takes: Sequence[NamedTake], one: OpenString) -> dict[Kind, list[Heard]]:
    """What was heard of a string's open note, harmonic and fretted octave; refused takes are left out."""
    groups: dict[Kind, list[Heard]] = {kind: [] for kind in KINDS}
    for each in takes:
        heard = heard_of(each.take)
        if heard is not None and each.name is not None and each.name.string == one.number:
            kind = kind_of(each.name, [one])
            if kind is not None:
                groups[kind].append(heard)
    return groups


def intonation_of(takes: Sequence[NamedTake], strings: Sequence[OpenString]) -> tuple[StringIntonation, ...]:
    """Intonation of every string with a fretted octave and something to hold it to; refused takes are left
    out."""
    found = []
    for one in strings:
        groups = _groups(takes, one)
        figure = intonation(groups["open"], groups["harmonic"], groups["fretted"])
        if figure is not None:
            own = [each.take for each in takes if each.name is not None and each.name.string == one.number]
            if any(why.code == "which-note" for take in own for why in take.reasons):
                figure = replace(figure, disagreements=(*figure.disagreements, tr(ONLY_IF)))
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
    """The service with good takes added as pitch readings and buzz as its own, all else kept; and how many were added.

    Raises:
        CorrectInputError: no take is good and named.
    """
    after = len(service.work)
    readings = readings_of(takes, after) + buzz_readings((one.buzz for one in takes), after)
    if not readings:
        raise CorrectInputError(
            tr("no take is both good and named, so nothing was added"),
            tr("good takes of this instrument's strings can be added"),
            tr("record again, one string at a time"),
        )
    return service.model_copy(update={"readings": (*service.readings, *readings)}), len(readings)
