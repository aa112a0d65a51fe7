"""What each visit found and left: relief, action and the worst intonation, straight from its stored entries.

The entries were checked when they were taken; here they are only read, so that a long history opens at once.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache
from itertools import groupby
from typing import Any

from breakangle.model.instrument import Instrument
from breakangle.planning.board import board_of
from breakangle.planning.readings import pitch
from breakangle.shop.entries import Standing, standing_entries
from breakangle.shop.records import InstrumentRecord, Visit
from breakangle.shop.store import Shop, Writing, one_record, records_among

ACTION_FRET = 11
REFERENCE_HZ = 440.0  # the service file's own, where none is written
RESTRING = "restring"
Body = Mapping[str, Any]


@dataclass(frozen=True)
class SeasonFigures:
    """Relief and action (mm) as one visit found and left them, and the room's humidity (percent)."""

    opened_at: datetime
    humidity_percent: float | None
    relief_found_mm: float | None
    relief_left_mm: float | None
    action_found_mm: float | None
    action_left_mm: float | None


@dataclass(frozen=True)
class Intonation:
    """How far a stopped note lies above (+) or below its place over the open string, in cents."""

    string: int
    fret: int
    cents: float


@dataclass
class StagedReadings:
    """A visit's readings by stage (how much work was done before): relief, action (mm); pitches (cents)."""

    relief_mm: dict[int, list[float]] = field(default_factory=dict)
    action_mm: dict[int, list[float]] = field(default_factory=dict)
    open_cents: dict[int, dict[int, float]] = field(default_factory=dict)
    stopped_cents: dict[int, dict[tuple[int, int], float]] = field(default_factory=dict)

    def worst(self, stage: int) -> Intonation | None:
        """Return the stopped note farthest from its place; from its own note where the open one was not read."""
        beside = self.open_cents.get(stage, {})
        found = [
            Intonation(string, fret, cents - beside.get(string, 0.0))
            for (string, fret), cents in self.stopped_cents.get(stage, {}).items()
        ]
        return max(found, key=lambda one: abs(one.cents), default=None)

    def worst_left(self) -> Intonation | None:
        """Return the same at the last stage at which any stopped note was read."""
        return self.worst(max(self.stopped_cents, default=0))


def season_figures(shop: Shop, instrument_id: str) -> tuple[SeasonFigures, ...]:
    """Return what each visit found and left, oldest first.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    with shop.reading() as connection:
        one_record(connection, InstrumentRecord, instrument_id)
        return figures_among(connection, [instrument_id]).get(instrument_id, ())


def figures_among(connection: Writing, instruments: Sequence[str]) -> dict[str, tuple[SeasonFigures, ...]]:
    """Return what each visit of these instruments found and left, oldest first, read in two portions."""
    visits = records_among(connection, Visit, "instrument_id", instruments)
    entries = entries_among(connection, visits)
    found: dict[str, list[SeasonFigures]] = {}
    for visit in sorted(visits, key=lambda one: (one.opened_at, one.number)):
        figures = figures_of(visit, staged(visit, entries.get(visit.id, ())))
        found.setdefault(visit.instrument_id, []).append(figures)
    return {key: tuple(figures) for key, figures in found.items()}


def entries_among(connection: Writing, visits: Iterable[Visit]) -> dict[str, tuple[Standing, ...]]:
    """Return what stands of each visit's entries, in order."""
    stand = standing_entries(connection, [one.id for one in visits])
    return {key: tuple(rows) for key, rows in groupby(stand, key=lambda one: one.visit_id)}


def figures_of(visit: Visit, read: StagedReadings) -> SeasonFigures:
    """Return a visit's figures: as found before any work, as left when they were last read."""
    return SeasonFigures(
        visit.opened_at,
        visit.humidity_percent,
        _mean(read.relief_mm, 0),
        _mean(read.relief_mm, max(read.relief_mm, default=0)),
        _mean(read.action_mm, 0),
        _mean(read.action_mm, max(read.action_mm, default=0)),
    )


def staged(visit: Visit, entries: Iterable[Standing]) -> StagedReadings:
    """Return the standing readings of a visit by stage."""
    found, stage = StagedReadings(), 0
    strings: list[Body] = []
    for entry in entries:
        body = json.loads(entry.body)
        if entry.kind == "adjustment":
            stage += 1
            strings += [body] if body["adjust"] == RESTRING else []
        elif body["quantity"] == "gap":
            _put_gap(found, stage, body)
        elif body["quantity"] == "pitch" and body.get("harmonic") is None:
            cents = body.get("cents")
            cents = _cents(visit, strings, body) if cents is None else float(cents)
            if body["fret"]:
                found.stopped_cents.setdefault(stage, {})[body["string"], body["fret"]] = cents
            else:
                found.open_cents.setdefault(stage, {})[body["string"]] = cents
    return found


def _put_gap(found: StagedReadings, stage: int, body: Body) -> None:
    """Two frets held: relief. One or none, at fret 11 or beyond: action."""
    held = len(body.get("held", ()))
    if held == 2:
        found.relief_mm.setdefault(stage, []).append(body["mm"])
    elif held < 2 and body["fret"] >= ACTION_FRET:
        found.action_mm.setdefault(stage, []).append(body["mm"])


def _mean(by_stage: Mapping[int, list[float]], stage: int) -> float | None:
    found = by_stage.get(stage)
    return sum(found) / len(found) if found else None


def _cents(visit: Visit, restrung: Sequence[Body], body: Body) -> float:
    """Return a pitch that was read in Hz in cents from its note on the strings of that moment."""
    data = json.loads(visit.body)
    strings = {one["string"]: one for one in data["instrument"]["strings"]}
    for change in restrung:
        strings |= {one["string"]: one for one in change["strings"]}
    data["instrument"]["strings"] = list(strings.values())
    text = json.dumps(data["instrument"], sort_keys=True)
    board = board_of(_instrument(text), float(data.get("reference_hz", REFERENCE_HZ)))
    return pitch.KIND.value(pitch.Pitch.model_validate(body), board)


@lru_cache(maxsize=64)
def _instrument(text: str) -> Instrument:
    return Instrument.model_validate_json(text)
