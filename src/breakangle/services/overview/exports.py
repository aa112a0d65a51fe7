"""Lists to take elsewhere: any table as CSV, and what is due as a calendar."""

import csv
import io
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.history.drift import Due
from breakangle.storage.records.entries import entries_of, standing
from breakangle.storage.records.records import (
    Attachment,
    Edited,
    Entry,
    Gauge,
    InstrumentRecord,
    Line,
    Owner,
    Price,
    Procedure,
    Run,
    Stock,
    Used,
    Visit,
)
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import utc_text
from breakangle.storage.search.search import Hit, search
from breakangle.storage.search.search_near import meant

LISTS: dict[str, type[Edited]] = {
    "owners": Owner,
    "instruments": InstrumentRecord,
    "visits": Visit,
    "gauges": Gauge,
    "stock": Stock,
    "prices": Price,
    "lines": Line,
    "attachments": Attachment,
    "procedures": Procedure,
    "runs": Run,
    "used": Used,
}
# Columns worked out from a record, behind its own fields: list, column, function of the record. A new one is a line.
WORKED_OUT: dict[str, dict[str, Callable[[Any], object]]] = {
    "lines": {"line_amount": lambda line: line.quantity * line.amount},
}
ENTRIES = "entries"
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def list_names() -> tuple[str, ...]:
    """Return the names of the lists there are."""
    return (*LISTS, ENTRIES)


def hits(shop: Shop, words: str) -> tuple[Hit, ...]:
    """Return the newest records that hold every one of `words`, each as the beginning of a word."""
    with shop.reading() as connection:
        return search(connection, words)


def near_hits(shop: Shop, words: str) -> tuple[str, tuple[Hit, ...]]:
    """Return the words most like `words` that are found, and what holds them; nothing where none is alike."""
    with shop.reading() as connection:
        instead = meant(connection, words)
        return (instead, search(connection, instead)) if instead else ("", ())


def csv_text(shop: Shop, name: str) -> str:
    """Return a list as CSV (RFC 4180): a row of names, then a row a record; times in UTC.

    Raises:
        CorrectInputError: no such list.
    """
    if name == ENTRIES:
        rows: list[Any] = [
            entry for visit in shop.every(Visit) for entry in standing(entries_of(shop, visit.id))
        ]
        return _table([field.name for field in fields(Entry)], rows, {})
    if name not in LISTS:
        raise CorrectInputError(
            tr('"{name}" is no list', name=name),
            tr("one of {list_names}", list_names=", ".join(list_names())),
            tr("choose one"),
        )
    return _table(
        [field.name for field in fields(LISTS[name])], shop.every(LISTS[name]), WORKED_OUT.get(name, {})
    )


def _table(names: list[str], rows: Iterable[Any], worked_out: Mapping[str, Callable[[Any], object]]) -> str:
    out = io.StringIO()
    written = csv.writer(out, lineterminator="\r\n")
    written.writerow([*names, *worked_out])
    for row in rows:
        values = [*(getattr(row, name) for name in names), *(column(row) for column in worked_out.values())]
        written.writerow([_cell(value) for value in values])
    return out.getvalue()


def _cell(value: Any) -> str:
    """Return the value as text; words that a spreadsheet would take for a formula get a sign before them."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        return utc_text(value)
    text = str(value)
    return f"'{text}" if isinstance(value, str) and text.startswith(FORMULA_SIGNS) else text


def calendar_text(found: Iterable[Due], now: datetime) -> str:
    """Return what is due as a calendar (RFC 5545): a whole-day event each, the same name each time it is made."""
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//Breakangle//workshop//EN")
    calendar.add("version", "2.0")
    for one in found:
        event = Event()
        event.add("uid", f"{one.instrument.id}-{one.what.replace(' ', '-')}@breakangle")
        event.add("dtstamp", now)
        event.add("dtstart", one.on)
        event.add("summary", f"{one.instrument.name}: {tr(one.what)}")
        event.add("description", one.why)
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return str(calendar.to_ical(), "utf-8")
