"""What has been heard of an instrument so far, string by string, with what it says of each string's octave."""

from dataclasses import dataclass
from math import hypot, log2

from breakangle.listening.naming.octaves import Kind
from breakangle.services.listening.notes import ByEar, heard_before
from breakangle.services.listening.takes import open_strings
from breakangle.services.visits.entries import service_of
from breakangle.storage.records.store import Shop


@dataclass(frozen=True)
class HeardNote:
    """One note: cents above its tempered note, and how sure."""

    cents: float
    uncertainty_cents: float


@dataclass(frozen=True)
class HeardString:
    """One string: its note's name, what was heard of it, and how far its stopped octave is off.

    `octave` is positive where the stopped note is sharp of the harmonic, or of the open string's octave where no
    harmonic was heard; None until the stopped note and one of these were.
    """

    string: int
    note: str
    notes: dict[Kind, HeardNote]
    octave: HeardNote | None
    course: int | None = None


def heard_sheet(shop: Shop, visit_id: str) -> tuple[HeardString, ...]:
    """Return what was heard since the last work, lowest string first.

    Raises:
        NoSuchRecordError: no such visit.
    """
    service = service_of(shop, visit_id)
    instrument, found = service.instrument_now(), heard_before(shop, visit_id)
    open_hz = {one.number: one.open_hz for one in open_strings(instrument, service.reference_hz)}
    rows = []
    for one in sorted(instrument.strings, key=lambda string: -string.string):
        octave = one.nut_at_fret + 12
        own = [
            each
            for each in found.values()
            if each.note.string == one.string and each.note.fret in (0, octave)
        ]
        heard = {each.note.kind: each for each in own if each.note.harmonic in (None, 2)}
        notes = {kind: _note(each, open_hz[one.string]) for kind, each in heard.items()}
        rows.append(
            HeardString(one.string, one.note, notes, _octave(heard), instrument.course_of(one.string))
        )
    return tuple(rows)


def _note(heard: ByEar, open_hz: float) -> HeardNote:
    note_hz = open_hz * (2 if heard.note.fret else 1)
    return HeardNote(1200 * log2(heard.hz / note_hz), heard.uncertainty_cents)


def _octave(heard: dict[Kind, ByEar]) -> HeardNote | None:
    """Return how far the stopped octave is from the harmonic; where that was not heard, from twice the open string."""
    stopped, harmonic, opened = heard.get("fretted"), heard.get("harmonic"), heard.get("open")
    true = harmonic or opened
    if stopped is None or true is None:
        return None
    true_hz = harmonic.hz if harmonic is not None else 2.0 * true.hz
    return HeardNote(
        1200 * log2(stopped.hz / true_hz), hypot(stopped.uncertainty_cents, true.uncertainty_cents)
    )
