"""Listening at the bench, hands free: asks for a note, names what it hears, judges it, stores it, asks for the next."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import log2
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.naming.naming import Asked
from breakangle.listening.stream import (
    Event,
    FirstReading,
    Listener,
    SteadyReading,
    Take,
    TakeBegan,
    TakeJudged,
)
from breakangle.listening.takes.reasons import Verdict
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.listening.buzzes import HeardBuzz, heard_buzz
from breakangle.services.listening.notes import ByEar, Note, heard_before, name_of, note_of, sequence_of
from breakangle.services.listening.strokes import PlayedStroke, board_for, played_stroke
from breakangle.services.listening.takes import open_strings
from breakangle.services.readings.typed_readings import standing_there
from breakangle.services.visits.entries import put_entry, put_instead, service_of, standing_held, undo
from breakangle.services.visits.parsed_sheets import READING
from breakangle.services.visits.reading_places import Place
from breakangle.storage.records.records import Entry
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

FloatArray = NDArray[np.float64]
LONGEST_S = 2.2  # a ringing string is judged then: a longer take is no surer
FINEST_CENTS = 0.1  # never told as surer than that; common practice, no source: finer is not heard
Outcome = Literal["stored", "again", "elsewhere", "unknown"]


@dataclass(frozen=True)
class Began:
    """A pluck was heard."""

    at_s: float


@dataclass(frozen=True)
class Sounding:
    """What rings now: the note it is taken for (None: none that is asked for), cents from it, how sure."""

    note: Note | None
    hz: float
    cents: float | None
    uncertainty_cents: float
    steady: bool


@dataclass(frozen=True)
class HeardTake:
    """One pluck with what became of it: stored, to be played again, no note that is asked for, or no string."""

    take: Take
    note: Note | None
    cents: float | None
    outcome: Outcome
    entry: Entry | None = None
    stroke: PlayedStroke | None = None
    buzz: HeardBuzz | None = None


@dataclass(frozen=True)
class AsksFor:
    """What is to be played next, None when everything was heard; how many are heard of how many."""

    note: Note | None
    heard_count: int
    wanted_count: int


Told = Began | Sounding | HeardTake | AsksFor


class LiveListening:
    """One person playing one instrument: blocks of sound in, what to tell them out."""

    def __init__(
        self, shop: Shop, visit_id: str, rate_hz: float, order: str, since: datetime | None = None
    ) -> None:
        """Begin where the stored readings leave off.

        Args:
            shop: where readings go.
            visit_id: whose.
            rate_hz: samples a second.
            order: which notes are asked for and in which order, one of `listen_notes.ORDERS`.
            since: ask anew for what was heard before; None asks only for what was not heard since the last work.

        Raises:
            CorrectInputError: no such order.
            NoSuchRecordError: no such visit.
        """
        service = service_of(shop, visit_id)
        self.strings = tuple(open_strings(service.instrument_now(), service.reference_hz))
        self.reference_hz = service.reference_hz
        self._service, self._board = service, board_for(service)
        self._shop, self._visit_id = shop, visit_id
        self._row = sequence_of(self.strings, order)
        self._standing = heard_before(shop, visit_id)
        self._filled = set(heard_before(shop, visit_id, since))
        self._open_hz = _open_pitches(self._standing)
        self._at, self._played, self._left = 0, -1, False
        self._listener = Listener(rate_hz, longest_s=LONGEST_S)
        self._doubtful: tuple[Take, Note] | None = None
        self._last: tuple[Note, Entry] | None = None
        self._seek()

    # -- what is asked for ------------------------------------------------------------------------------

    @property
    def asked(self) -> AsksFor:
        """What is to be played next."""
        notes = [note_of(one, self.strings) for one in self._row]
        heard = sum(one in self._filled for one in notes)
        now = notes[self._at] if self._at < len(notes) else None
        return AsksFor(now, heard, len(notes))

    def _seek(self, begin: int = 0) -> None:
        """Ask for the first note from `begin` on, round and round, that was not heard; none when all were."""
        count = len(self._row)
        for at in [*range(begin, count), *range(begin)]:
            if note_of(self._row[at], self.strings) not in self._filled:
                self._at = at
                return
        self._at = count

    def step(self, by: int) -> AsksFor:
        """Ask for the next or the previous note of the order, whether it was heard or not."""
        self._at, self._left = (min(self._at, len(self._row)) + by) % len(self._row), False
        return self.asked

    def _likeliest(self) -> list[Asked]:
        """The notes a pitch may be, likeliest first: what is asked for, then what follows the note played last.

        A harmonic and a stopped octave sound alike. Who has left the order plays on in the order of asking, so that
        there what follows comes first.
        """
        following = [*self._row[self._played + 1 :], *self._row[: self._played + 1]]
        if self._at == len(self._row) or self._left:
            return following
        return [self._row[self._at], *(one for one in following if one != self._row[self._at])]

    def _place(self, note: Note) -> int:
        """Where in the order the note is."""
        return [note_of(one, self.strings) for one in self._row].index(note)

    # -- what is heard ----------------------------------------------------------------------------------

    def push(self, block: FloatArray, stamp: Stamp) -> list[Told]:
        """Return what there is to tell after the next samples, mono, full scale 1; good takes are stored."""
        return [told for event in self._listener.push(block) for told in self._told(event, stamp)]

    def finish(self, stamp: Stamp) -> list[Told]:
        """Return what there is to tell when the person ends it."""
        return [told for event in self._listener.finish() for told in self._told(event, stamp)]

    def _told(self, event: Event, stamp: Stamp) -> list[Told]:
        if isinstance(event, TakeBegan):
            return [Began(event.start_s)]
        if isinstance(event, FirstReading | SteadyReading):
            note, cents = self._named(event.pitch_hz)
            spread = max(event.uncertainty_cents, FINEST_CENTS)
            steady = isinstance(event, SteadyReading)
            return [Sounding(note, event.pitch_hz, cents, spread, steady)]
        return self._judged(event.take, stamp) if isinstance(event, TakeJudged) else []

    def _named(self, hz: float) -> tuple[Note | None, float | None]:
        """Return which of the notes asked for it is, and how many cents from it; None for any other."""
        name = name_of(hz, self.strings, self._likeliest(), self._open_hz)
        found = None if name is None else Note(name.string, name.fret, name.harmonic)
        if found is None or found not in {note_of(one, self.strings) for one in self._row}:
            return None, None
        return found, self.cents_of(found, hz)

    def cents_of(self, note: Note, hz: float) -> float:
        """Return how far `hz` lies above the note of equal temperament, in cents."""
        opened = next(one.open_hz for one in self.strings if one.number == note.string)
        return 1200 * log2(hz / (opened * (2 if note.fret else 1)))

    def _judged(self, take: Take, stamp: Stamp) -> list[Told]:
        if take.pitch is None:
            return [HeardTake(take, None, None, "unknown"), self.asked]
        note, cents = self._named(take.pitch.law.partial_one_hz)
        if note is None:
            return [HeardTake(take, None, None, "elsewhere"), self.asked]
        if take.verdict is not Verdict.GOOD:
            # Not counted as played: the same note comes again.
            self._doubtful = (take, note) if take.verdict is Verdict.DOUBTFUL else None
            stroke = self._stroke(take, note)
            buzz = heard_buzz(take, note, stroke, self._service, self._board)
            return [HeardTake(take, note, cents, "again", None, stroke, buzz), self.asked]
        return self._stored(take, note, stamp)

    # -- what is kept -----------------------------------------------------------------------------------

    def keep(self, stamp: Stamp) -> list[Told]:
        """Store the last take although it is doubtful, with the uncertainty it has.

        Raises:
            CorrectInputError: the last take was good, or cannot be used at all.
        """
        if self._doubtful is None:
            raise CorrectInputError(tr("there is no doubtful take to keep"), "", tr("play the note again"))
        return self._stored(*self._doubtful, stamp)

    def take_back(self, stamp: Stamp) -> AsksFor:
        """Take back the reading stored last, and ask for its note again.

        Raises:
            CorrectInputError: nothing was stored here yet.
            EditedMeanwhileError: somebody has corrected it.
        """
        if self._last is None:
            raise CorrectInputError(tr("nothing was stored yet"), "", tr("play a note"))
        (note, entry), self._last = self._last, None
        undo(self._shop, entry.id, stamp)
        self._standing = heard_before(self._shop, self._visit_id)
        self._open_hz = _open_pitches(self._standing)
        self._filled.discard(note)
        self._at = self._place(note)
        self._played, self._left = self._at - 1, False
        return self.asked

    def _stored(self, take: Take, note: Note, stamp: Stamp) -> list[Told]:
        """Store the take as a reading; it takes the place of one heard before, without work in between."""
        assert take.pitch is not None
        hz, spread = take.pitch.law.partial_one_hz, max(take.pitch.uncertainty_cents, FINEST_CENTS)
        entry = self._entry(note, hz, spread, stamp)
        self._standing[note] = ByEar(note, hz, spread, entry.id, stamp.at)
        self._filled.add(note)
        self._last, self._doubtful = (note, entry), None
        if note.kind == "open":
            self._open_hz[note.string] = hz
        self._left = self.asked.note not in (note, None)
        self._played = self._place(note)
        self._seek(self._played)
        stroke = self._stroke(take, note)
        return [HeardTake(take, note, self.cents_of(note, hz), "stored", entry, stroke), self.asked]

    def _stroke(self, take: Take, note: Note) -> PlayedStroke | None:
        """Return how hard the take was played."""
        return played_stroke(take.pitch, note, self._service, self._board)

    def _entry(self, note: Note, hz: float, spread: float, stamp: Stamp) -> Entry:
        value: dict[str, Any] = {
            "quantity": "pitch",
            "string": note.string,
            "fret": note.fret,
            "hz": round(hz, 4),
            "uncertainty_cents": round(spread, 2),
        }
        if note.harmonic is not None:
            value["harmonic"] = note.harmonic
        with self._shop.writing() as connection:
            before = _heard_of(standing_held(connection, self._visit_id), note)
            if before is not None:
                return put_instead(connection, before, value, tr("heard again"), stamp)
            return put_entry(connection, self._visit_id, READING, value, stamp)


def _heard_of(entries: Sequence[Entry], note: Note) -> Entry | None:
    """Return of a visit's standing entries the one in which the note was heard since the last work."""
    by_ear = [one for one in entries if one.kind != READING or "hz" in json.loads(one.body or "{}")]
    return standing_there(by_ear, Place("pitch", note.string, note.fret, (), note.harmonic))


def _open_pitches(standing: Mapping[Note, ByEar]) -> dict[int, float]:
    """Return the pitch in Hz of every open string that was heard."""
    return {note.string: one.hz for note, one in standing.items() if note.kind == "open"}
