"""One instrument's time in the shop: each visit with what it found and left, its strings and its photographs."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from breakangle.services.history.figures import (
    RESTRING,
    Intonation,
    SeasonFigures,
    entries_among,
    figures_of,
    staged,
)
from breakangle.services.visits.visits import visit_numbered
from breakangle.storage.records.records import Attachment, InstrumentRecord, Used, Visit
from breakangle.storage.records.standing_entries import Standing
from breakangle.storage.records.store import Shop, one_record, records_among
from breakangle.storage.schema.stamp import from_utc_text

OfVisit = TypeVar("OfVisit", Attachment, Used)


@dataclass(frozen=True)
class StringsFitted:
    """New strings: when, by whom, and each as note and diameter in mm, in the order of the strings."""

    at: datetime
    who: str
    strings: tuple[tuple[int, str, float], ...]


@dataclass(frozen=True)
class TimelineVisit:
    """One visit on the timeline; the air is as it was read, None where it was not."""

    visit: Visit
    figures: SeasonFigures
    intonation_found: Intonation | None
    intonation_left: Intonation | None
    adjustment_count: int
    strings_fitted: tuple[StringsFitted, ...]
    used: tuple[Used, ...]
    photographs: tuple[Attachment, ...]
    recordings: tuple[Attachment, ...]

    @property
    def apart(self) -> bool:
        """Return whether relief or action was read at other places in the end, so that the two do not compare."""
        ends = (self.figures.relief, self.figures.action)
        return any(end.elsewhere_mm is not None for end in ends)


def timeline(shop: Shop, instrument_id: str) -> tuple[TimelineVisit, ...]:
    """Return the instrument's visits as its timeline shows them, oldest first.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    with shop.reading() as connection:
        one_record(connection, InstrumentRecord, instrument_id)
        visits = records_among(connection, Visit, "instrument_id", [instrument_id])
        entries = entries_among(connection, visits)
        attached = _by_visit(records_among(connection, Attachment, "instrument_id", [instrument_id]))
        used = _by_visit(records_among(connection, Used, "visit_id", [visit.id for visit in visits]))
    ordered = sorted(visits, key=lambda one: (one.opened_at, one.number))
    return tuple(
        _row(one, entries.get(one.id, ()), attached.get(one.id, []), used.get(one.id, [])) for one in ordered
    )


def timeline_of_sheet(shop: Shop, number: int) -> tuple[str, tuple[TimelineVisit, ...]]:
    """Return the name of the instrument that sheet `number` is about, and its timeline.

    Raises:
        NoSuchRecordError: no such sheet.
    """
    instrument_id = visit_numbered(shop, number).instrument_id
    return shop.get(InstrumentRecord, instrument_id).name, timeline(shop, instrument_id)


def _row(
    visit: Visit, entries: tuple[Standing, ...], attached: list[Attachment], used: list[Used]
) -> TimelineVisit:
    read = staged(visit, entries)
    work = [entry for entry in entries if entry.kind == "adjustment"]
    return TimelineVisit(
        visit,
        figures_of(visit, read),
        read.worst(0),
        read.worst_left(),
        len(work),
        tuple(found for adjustment in work for found in _fitted(adjustment)),
        tuple(used),
        tuple(one for one in attached if one.kind == "photograph"),
        tuple(one for one in attached if one.kind == "recording"),
    )


def _fitted(entry: Standing) -> Iterable[StringsFitted]:
    body = json.loads(entry.body)
    if body["adjust"] == RESTRING:
        strings = sorted((one["string"], one["note"], float(one["diameter_mm"])) for one in body["strings"])
        yield StringsFitted(from_utc_text(entry.at), entry.who, tuple(strings))


def _by_visit(found: Iterable[OfVisit]) -> dict[str | None, list[OfVisit]]:
    by_visit: dict[str | None, list[OfVisit]] = {}
    for one in found:
        by_visit.setdefault(one.visit_id, []).append(one)
    return by_visit
