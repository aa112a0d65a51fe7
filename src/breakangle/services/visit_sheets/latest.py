"""What was stored on a sheet, the latest first: each can be taken back, and put back again."""

from collections.abc import Sequence
from dataclasses import dataclass

from breakangle.model.instrument import Instrument
from breakangle.services.visit_sheets.sheet import EntryTold, told_of
from breakangle.storage.records.entries import UNDONE, entries_of
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop


@dataclass(frozen=True)
class Stored:
    """One stored thing as it stands now; `told` says what it is, `undone` whether it was taken back."""

    now: EntryTold
    told: EntryTold
    undone: bool


def stored_lately(shop: Shop, visit: Visit, instrument: Instrument, most: int = 6) -> tuple[Stored, ...]:
    """Return at most so many of what was stored or taken back last, the latest first."""
    every = entries_of(shop, visit.id)
    followed = {one.supersedes for one in every}
    last = [one for one in every if one.id not in followed and (one.body is not None or one.reason == UNDONE)]
    ids = sorted((one.id for one in last), reverse=True)[:most]
    known = {one.entry.id: one for one in told_of(every, instrument, ids)}
    return tuple(_stored(known[one], known) for one in ids)


def _stored(one: EntryTold, known: dict[str, EntryTold]) -> Stored:
    """Return an entry with what it says; of one that took another back, what it took back."""
    undone = one.entry.reason == UNDONE
    told = known[one.entry.supersedes] if undone and one.entry.supersedes else one
    return Stored(one, told, undone)


def late_choices(every: Sequence[EntryTold]) -> tuple[EntryTold, ...]:
    """Return, of a visit's entries, before which something entered late may have been done: the latest first."""
    return tuple(reversed([one for one in every if one.stands]))
