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
from breakangle.planning.kinds.readings import pitch
from breakangle.planning.state.board import board_of
from breakangle.storage.records.records import InstrumentRecord, Visit
from breakangle.storage.records.standing_entries import Standing, standing_entries
from breakangle.storage.records.store import Shop, Writing, one_record, records_among

ACTION_FRET = 11
REFERENCE_HZ = 440.0  # the service file's own, where none is written. Source: ISO 16
RESTRING = "restring"
# What changes the heights of strings and leaves the neck as it is.
KEEPS_RELIEF = ("saddle-height", "saddle-position", "nut-slot", "slot-width", "bridge-position")
Body = Mapping[str, Any]
Spot = tuple[int, int, tuple[int, ...]]  # where a gap was read: string, fret, and the frets held


@dataclass(frozen=True)
class Ends:
    """One sort of gap (mm) by place: as found before any work, and as it stood at the end, as far as is known.

    What was not read again stands as it was found, unless work since may have moved it.
    """

    found: Mapping[Spot, float] = field(default_factory=dict)
    left: Mapping[Spot, float] = field(default_factory=dict)

    @property
    def common(self) -> tuple[Spot, ...]:
        """Return the places known at both ends."""
        return tuple(one for one in self.found if one in self.left)

    @property
    def found_mm(self) -> float | None:
        """Return the mean over the places known at both ends; over all that were found where none is."""
        return _mean(self.found, self.common or tuple(self.found))

    @property
    def left_mm(self) -> float | None:
        """Return the mean over the same places at the end: None where only other places were read then."""
        if not self.found or not self.left:
            last = self.left or self.found
            return _mean(last, tuple(last))
        return _mean(self.left, self.common)

    @property
    def elsewhere_mm(self) -> float | None:
        """Return the mean at the end where no place compares, since other places were read then; else None."""
        apart = bool(self.found) and not self.common
        return _mean(self.left, tuple(self.left)) if apart else None


@dataclass(frozen=True)
class SeasonFigures:
    """Relief and action as one visit found and left them, and the room's humidity (percent)."""

    opened_at: datetime
    humidity_percent: float | None
    relief: Ends = Ends()
    action: Ends = Ends()

    @property
    def relief_found_mm(self) -> float | None:
        """Return the relief as found."""
        return self.relief.found_mm

    @property
    def relief_left_mm(self) -> float | None:
        """Return the relief as left, where it compares with what was found."""
        return self.relief.left_mm

    @property
    def action_found_mm(self) -> float | None:
        """Return the action as found."""
        return self.action.found_mm

    @property
    def action_left_mm(self) -> float | None:
        """Return the action as left, where it compares with what was found."""
        return self.action.left_mm


@dataclass(frozen=True)
class Intonation:
    """How far a stopped note lies above (+) or below its place over the open string, in cents."""

    string: int
    fret: int
    cents: float


@dataclass
class StagedReadings:
    """A visit's gaps at both its ends, and its pitches (cents) by stage: how much work was done before."""

    relief_found: dict[Spot, float] = field(default_factory=dict)
    relief_left: dict[Spot, float] = field(default_factory=dict)
    action_found: dict[Spot, float] = field(default_factory=dict)
    action_left: dict[Spot, float] = field(default_factory=dict)
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
    stand = standing_entries(connection, [visit.id for visit in visits])
    return {key: tuple(rows) for key, rows in groupby(stand, key=lambda one: one.visit_id)}


def figures_of(visit: Visit, read: StagedReadings) -> SeasonFigures:
    """Return a visit's figures: as found before any work, and as left."""
    return SeasonFigures(
        visit.opened_at,
        visit.humidity_percent,
        Ends(read.relief_found, read.relief_left),
        Ends(read.action_found, read.action_left),
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
            _move(found, body)
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
    """Two frets held: relief. One or none, at fret 11 or beyond: action. The last reading of a place counts."""
    held = tuple(sorted(body.get("held", ())))
    spot = (body["string"], body["fret"], held)
    if len(held) == 2:
        ends = (found.relief_found, found.relief_left)
    elif len(held) < 2 and body["fret"] >= ACTION_FRET:
        ends = (found.action_found, found.action_left)
    else:
        return
    for end in ends if stage == 0 else ends[1:]:
        end[spot] = body["mm"]


def _move(found: StagedReadings, work: Body) -> None:
    """Let go of what this work may have moved: of its own string where it names one, else of all."""
    own = work.get("string")
    if work["adjust"] not in KEEPS_RELIEF:
        found.relief_left.clear()
    for spot in [one for one in found.action_left if own in (None, one[0])]:
        del found.action_left[spot]


def _mean(gaps: Mapping[Spot, float], spots: Sequence[Spot]) -> float | None:
    return sum(gaps[one] for one in spots) / len(spots) if spots else None


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
