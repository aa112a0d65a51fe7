"""The example workshop's visits: read, planned, worked on as planned, read again; the hidden truth answers."""

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import cos, pi
from typing import Any

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.service import SERVICE_FORMAT
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.adjustments.restring import Restring
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.reference.families import family
from breakangle.services.example_workshop.people import COMPLAINTS, INSTRUMENT_NOTES, MAKER, VISIT_NOTES
from breakangle.services.example_workshop.simulated_instrument import MadeUpInstrument
from breakangle.services.service_files.example import usual_instrument
from breakangle.services.service_files.service import plan_service, service_from
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.used_parts import use_stock
from breakangle.services.visits.visits import add_instrument
from breakangle.services.workshop.prices import add_line
from breakangle.storage.records.records import InstrumentRecord, Owner, Stock, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

# Where nothing else is said below: chosen, of visits that are made up.
SEED, ALIKE_RATIO = 20, 0.5
WINTER_PERCENT, SUMMER_PERCENT = 32.0, 58.0
STRINGS_LAST, SET_PRICE = timedelta(days=300), "12.50"


@dataclass
class Coming:
    """One instrument with its record and its hidden truth."""

    record: InstrumentRecord
    made_up: MadeUpInstrument
    humidity_percent: float
    strung_at: datetime | None = None
    visit_count: int = 0


def room_percent(at: datetime) -> float:
    """Return the example workshop's humidity on a day: dry in January, damp in July."""
    middle, swing = (WINTER_PERCENT + SUMMER_PERCENT) / 2, (SUMMER_PERCENT - WINTER_PERCENT) / 2
    return middle - swing * cos(2 * pi * (at.timetuple().tm_yday - 15) / 365)


def arrives(shop: Shop, owner: Owner, name: str, kind: str, hours: float, seed: int, stamp: Stamp) -> Coming:
    """Store an instrument of the example workshop, and return it with its hidden truth."""
    instrument = usual_instrument(family(kind), name)
    record = add_instrument(shop, stamp, instrument, owner, INSTRUMENT_NOTES.get(name, ""))
    record = shop.change(record, stamp, playing_hours_per_week=hours)
    made_up = MadeUpInstrument(instrument, np.random.default_rng(SEED + seed), ALIKE_RATIO)
    return Coming(record, made_up, room_percent(stamp.at))


class Sitting:
    """One visit in the making: what was read and done, in order."""

    def __init__(self, one: Coming, at: datetime) -> None:
        """Let the season and the owner's playing act, and begin with the readings as it came in."""
        self.one, self.at = one, at
        self.humidity_percent = round(room_percent(at) + one.made_up.chance.normal(0, 2.0))
        one.made_up.weather(self.humidity_percent - one.humidity_percent)
        if one.visit_count:
            one.made_up.play()
        one.humidity_percent = self.humidity_percent
        one.visit_count += 1
        self.instrument: Instrument = one.made_up.instrument
        self.readings: list[dict[str, Any]] = []
        self.work: list[dict[str, Any]] = []

    def read(self) -> None:
        """Read what a routine reads, after the work done so far."""
        self._keep(self.one.made_up.usual_readings())

    def read_pitches(self) -> None:
        """Read intonation alone, as after new strings: heights are as they were."""
        self._keep([one for one in self.one.made_up.usual_readings() if one["quantity"] == "pitch"])

    def _keep(self, readings: list[dict[str, Any]]) -> None:
        after = {"after": len(self.work)} if self.work else {}
        self.readings += [reading | after for reading in readings]

    def do(self, made: Adjustment) -> None:
        """Make an adjustment."""
        self.one.made_up.adjust(made)
        self.work.append(made.model_dump(mode="json", exclude_unset=True))

    def restring(self) -> None:
        """Fit a new set of the same strings, bring them to pitch."""
        self.do(Restring(strings=self.one.made_up.instrument.strings))
        self.do(Tune())
        self.one.strung_at = self.at

    def planned(self) -> list[Adjustment]:
        """Return what the plan says now."""
        service = service_from(json.dumps(self.data()).encode(), tr("the example"))
        return [one.adjustment for one in plan_service(service).steps]

    def turn_the_rod(self) -> list[Adjustment]:
        """Turn the rod as planned and read relief again; return what is planned besides."""
        planned = self.planned()
        turns = [one for one in planned if isinstance(one, RodTurn)]
        for one in turns:
            self.do(one)
        if not turns:
            return planned
        self._keep(self.one.made_up.relief_readings())
        return [one for one in self.planned() if not isinstance(one, RodTurn)]

    def follow_straight_through(self) -> None:
        """Do all that the plan says, one after the other, then read: far off is not right at once."""
        for one in self.planned():
            self.do(one)
        if self.work:
            self.read()

    def follow_the_plan(self) -> None:
        """Do what the plan says: the rod first, then what is planned after it was read again; then read."""
        done = len(self.work)
        for one in self.turn_the_rod():
            self.do(one)
        if len(self.work) > done:
            self.read()

    def data(self) -> dict[str, Any]:
        """Return the visit as a service file's data."""
        return {
            "format": SERVICE_FORMAT,
            "instrument": self.instrument.model_dump(mode="json", exclude_unset=True),
            "room": {"temperature_c": 20.0, "humidity_percent": float(self.humidity_percent)},
            "readings": self.readings,
            "work": self.work,
        }

    def store(self, shop: Shop, complaint: str, notes: str = "") -> Visit:
        """Store the visit as it is, waiting."""
        stamp = Stamp(MAKER, self.at)
        record = shop.get(InstrumentRecord, self.one.record.id)
        visit = bring_in(shop, json.dumps(self.data()).encode(), tr("the example"), stamp, record).visit
        if self.one.strung_at == self.at:
            record = shop.get(InstrumentRecord, self.one.record.id)
            shop.change(record, stamp, strings_changed_at=self.at)
        return shop.change(visit, stamp, complaint=complaint, notes=notes)


def serve(shop: Shop, one: Coming, at: datetime, order: int, packs: dict[str, Stock]) -> Visit:
    """Store one whole visit: read, restrung where it was due, worked on as planned, read again, the bill."""
    sitting, first = Sitting(one, at), one.visit_count == 1
    sitting.read()
    new = first or one.strung_at is None or at - one.strung_at > STRINGS_LAST
    if new:
        sitting.restring()
        sitting.read_pitches()
    if first:  # far off when it first comes: what the first pass does not reach, the second does
        sitting.follow_straight_through()
    sitting.follow_the_plan()
    visit = sitting.store(shop, COMPLAINTS[order % len(COMPLAINTS)], VISIT_NOTES[order % len(VISIT_NOTES)])
    stamp = Stamp(MAKER, at + timedelta(hours=5))
    add_line(shop, stamp, visit, "labour", "set-up", "65")
    if new:
        pack = packs[one.record.kind]
        use_stock(shop, visit, pack, 1, stamp, SET_PRICE)
        add_line(shop, stamp, visit, "part", pack.words, "18.50")
    return visit


def hand_back(shop: Shop, visit: Visit, at: datetime) -> None:
    """Hand the visit's instrument back."""
    move_visit(shop, shop.get(Visit, visit.id), "handed back", Stamp(MAKER, at))
