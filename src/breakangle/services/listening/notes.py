"""The notes that listening asks for: which string, open or at its twelfth, in which order; and which one was played."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from breakangle.listening.naming.naming import KINDS, Asked, Name, OpenString, name_row
from breakangle.listening.naming.octaves import Kind
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.records.entries import entries_of, standing
from breakangle.storage.records.store import Shop

# Order of asking: whether string by string or kind by kind, and which kinds.
ORDERS: dict[str, tuple[bool, tuple[Kind, ...]]] = {
    "strings": (True, KINDS),
    "rounds": (False, KINDS),
    "octaves": (True, ("open", "fretted")),
    "open": (True, ("open",)),
}
STEPS_UP = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


@dataclass(frozen=True, order=True)
class Note:
    """A note that can be asked for: string, fret (0 open) and, for a natural harmonic, its number."""

    string: int
    fret: int
    harmonic: int | None = None

    @property
    def kind(self) -> Kind:
        """Open, harmonic or fretted."""
        return "harmonic" if self.harmonic else "fretted" if self.fret else "open"


@dataclass(frozen=True)
class ByEar:
    """A note that was heard and stored: its pitch, how sure, and its entry."""

    note: Note
    hz: float
    uncertainty_cents: float
    entry_id: str
    taken_at: datetime


def note_of(asked: Asked, strings: Sequence[OpenString]) -> Note:
    """Return the note that is asked for."""
    octave = next(one.octave_fret for one in strings if one.number == asked.string)
    return Note(asked.string, 0 if asked.kind == "open" else octave, 2 if asked.kind == "harmonic" else None)


def sequence_of(strings: Sequence[OpenString], order: str) -> tuple[Asked, ...]:
    """Return what is asked for, lowest string first; no twelfth where the board has none.

    Raises:
        CorrectInputError: no such order.
    """
    if order not in ORDERS:
        raise CorrectInputError(
            tr('"{order}" is no order', order=order),
            tr("one of {orders}", orders=", ".join(ORDERS)),
            tr("choose one"),
        )
    by_string, kinds = ORDERS[order]
    found = [
        Asked(one.number, kind)
        for one in sorted(strings, key=lambda one: -one.number)
        for kind in kinds
        if kind == "open" or one.octave_fret <= one.fret_count
    ]
    return tuple(found if by_string else sorted(found, key=lambda one: kinds.index(one.kind)))


def heard_before(shop: Shop, visit_id: str, since: datetime | None = None) -> dict[Note, ByEar]:
    """Return what was heard after the last work done at this visit, the newest of each note.

    Args:
        shop: where the visit is.
        visit_id: whose.
        since: leave out what was heard before.
    """
    found: dict[Note, ByEar] = {}
    for entry in standing(entries_of(shop, visit_id)):
        body = json.loads(entry.body or "null")
        if entry.kind == "adjustment":
            found = {}
        elif body.get("quantity") == "pitch" and body.get("hz") is not None:
            note = Note(int(body["string"]), int(body["fret"]), body.get("harmonic"))
            if since is None or entry.taken_at >= since:
                spread = float(body.get("uncertainty_cents") or 0.1)
                found[note] = ByEar(note, float(body["hz"]), spread, entry.id, entry.taken_at)
    return found


def name_of(
    hz: float, strings: Sequence[OpenString], row: Sequence[Asked], open_hz: Mapping[int, float]
) -> Name | None:
    """Return what a pitch is; where it could be several, the first of `row` (what is asked for now, then the rest).

    Args:
        hz: partial 1 of the take.
        strings: the instrument's.
        row: what is asked for now, then what else may be played, likeliest first.
        open_hz: pitch of the open strings as far as they were heard; others are near their notes.
    """
    tuned = [
        OpenString(one.number, open_hz.get(one.number, one.open_hz), one.fret_count, one.nut_at_fret)
        for one in strings
    ]
    return name_row([hz], tuned, row, finished=False)[0]


def note_name(hz: float, reference_hz: float) -> str:
    """Return the name of the nearest note of equal temperament (ISO 16), such as `G#3`."""
    from math import log2

    steps = round(12 * log2(hz / reference_hz)) + 57  # A4 is the 57th semitone above C0
    return f"{STEPS_UP[steps % 12]}{steps // 12}"
