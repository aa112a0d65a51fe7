"""The example workshop: invented people and instruments of five families, two years of visits with seasons.

It lies in a folder of its own beside the user's shop: it is loaded and removed whole, and never mixed with it.
"""

import json
import shutil
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import cos, pi
from pathlib import Path
from typing import Any

import numpy as np

from breakangle.desk.example import usual_instrument
from breakangle.desk.shop_open import shop_at
from breakangle.desk.shop_prices import add_line, set_setting
from breakangle.desk.shop_service_files import bring_in
from breakangle.desk.shop_truth import MadeUpInstrument
from breakangle.desk.shop_visits import add_instrument, add_owner, move_visit
from breakangle.model.errors import CorrectInputError
from breakangle.model.reading import Adjustment
from breakangle.model.service import SERVICE_FORMAT
from breakangle.planning.adjustments.rod import RodTurn
from breakangle.planning.adjustments.saddle_height import SaddleHeight
from breakangle.planning.adjustments.tune import Tune
from breakangle.planning.prior import family_of
from breakangle.shop.errors import ShopOutOfReachError
from breakangle.shop.records import Gauge, InstrumentRecord, Owner, Visit
from breakangle.shop.stamp import Stamp
from breakangle.shop.store import Shop
from breakangle.tables.families import family

FOLDER, SEED, DAYS = "example", 20, 730
MAKER = "Ada Quill"
# Invented: name, kind, owner, first visit (days before now), days between visits, hours of playing a week.
INSTRUMENTS = (
    ("Heron", "electric-guitar", 0, 725, 170, 9.0),
    ("Wagtail", "electric-guitar", 1, 640, 190, 4.0),
    ("Bittern", "bass-four", 0, 700, 200, 6.0),
    ("Plover", "steel-acoustic-guitar", 2, 690, 160, 7.0),
    ("Curlew", "steel-acoustic-guitar", 3, 610, 210, 2.0),
    ("Wren", "mandolin", 2, 655, 220, 3.0),
    ("Siskin", "nylon-acoustic-guitar", 3, 580, 250, 5.0),
)
OWNERS = (
    ("Milo Tarn", "milo@example.org"),
    ("Åse Lindqvill", "ase@example.org"),
    ("Petra Oake", "petra@example.org"),
    ("Hill Street School", "school@example.org"),
)
COMPLAINTS = (
    "buzzes low down",
    "hard to press",
    "a yearly check",
    "out of tune up the neck",
    "new strings, please",
)
WINTER_PERCENT, SUMMER_PERCENT = 32.0, 58.0


@dataclass
class _Coming:
    """One instrument with its record and its hidden truth."""

    record: InstrumentRecord
    made_up: MadeUpInstrument
    humidity_percent: float


def room_percent(at: datetime) -> float:
    """Return the example workshop's humidity on a day: dry in January, damp in July."""
    middle, swing = (WINTER_PERCENT + SUMMER_PERCENT) / 2, (SUMMER_PERCENT - WINTER_PERCENT) / 2
    return middle - swing * cos(2 * pi * (at.timetuple().tm_yday - 15) / 365)


def example_folder(folder: Path) -> Path:
    """Return where the example workshop beside the shop in `folder` lies."""
    return folder / FOLDER


def load_example(folder: Path, now: datetime) -> Path:
    """Make the example workshop beside the shop in `folder`, whole or not at all, and return where it is.

    Raises:
        CorrectInputError: it is there already.
        ShopOutOfReachError: the folder cannot be written.
    """
    place = example_folder(folder)
    if place.exists():
        raise CorrectInputError(
            "the example workshop is there already", "", "remove it first to make it anew"
        )
    unfinished = folder / f".unfinished-{FOLDER}"
    shutil.rmtree(unfinished, ignore_errors=True)
    shop = shop_at(unfinished)
    try:
        _fill(shop, now)
    finally:
        shop.close()
    unfinished.rename(place)
    return place


def remove_example(folder: Path) -> None:
    """Remove the example workshop; the user's own shop is another folder and is not touched.

    Raises:
        CorrectInputError: there is none.
        ShopOutOfReachError: it cannot be removed.
    """
    place = example_folder(folder)
    if not place.exists():
        raise CorrectInputError("there is no example workshop", "", "load it first")
    gone = folder / f".unfinished-{FOLDER}"
    try:
        with suppress(FileNotFoundError):
            shutil.rmtree(gone)
        place.rename(gone)
        shutil.rmtree(gone)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        raise ShopOutOfReachError(
            f"the example workshop cannot be removed: {reason}", "", "allow it"
        ) from cause


def _fill(shop: Shop, now: datetime) -> None:
    start = Stamp(MAKER, now - timedelta(days=DAYS))
    owners = [add_owner(shop, start, name, contact) for name, contact in OWNERS]
    shop.add(Gauge, start, name="feelers", quantity="gap", spread=0.02, notes="checked against a block")
    set_setting(shop, "tax_percent", "20", start)
    coming = [_arrives(shop, owners, number, start) for number in range(len(INSTRUMENTS))]
    visits = sorted(
        (now - timedelta(days=first - every * count), number)
        for number, (_, _, _, first, every, _) in enumerate(INSTRUMENTS)
        for count in range(first // every + 1)
    )
    for order, (at, number) in enumerate(visits):
        _serve(shop, coming[number], at, order, last=order >= len(visits) - 2)


def _arrives(shop: Shop, owners: list[Owner], number: int, stamp: Stamp) -> _Coming:
    name, kind, owner, _, _, hours = INSTRUMENTS[number]
    instrument = usual_instrument(family(kind), name)
    record = add_instrument(shop, stamp, instrument, owners[owner], "invented")
    record = shop.change(record, stamp, playing_hours_per_week=hours)
    made_up = MadeUpInstrument(instrument, np.random.default_rng(SEED + number))
    return _Coming(record, made_up, room_percent(stamp.at))


def _serve(shop: Shop, one: _Coming, at: datetime, order: int, last: bool) -> None:
    """Store one visit: readings as it came in, the work, readings as it left, the bill."""
    humidity = round(room_percent(at) + one.made_up.chance.normal(0, 2.0))
    one.made_up.weather(humidity - one.humidity_percent)
    one.humidity_percent = humidity
    instrument = one.made_up.instrument
    readings, work = one.made_up.usual_readings(), _work(one.made_up)
    done: list[dict[str, Any]] = []
    for made in work:
        one.made_up.adjust(made)
        done.append(made.model_dump(mode="json", exclude_unset=True))
        if isinstance(made, RodTurn):
            readings += [reading | {"after": len(done)} for reading in one.made_up.relief_readings()]
    readings += [reading | {"after": len(done)} for reading in one.made_up.usual_readings() if done]
    data = {
        "format": SERVICE_FORMAT,
        "instrument": instrument.model_dump(mode="json", exclude_unset=True),
        "room": {"temperature_c": 20.0, "humidity_percent": float(humidity)},
        "readings": readings,
        "work": done,
    }
    stamp = Stamp(MAKER, at)
    record = shop.get(InstrumentRecord, one.record.id)
    visit = bring_in(shop, json.dumps(data).encode(), "the example", stamp, record).visit
    visit = shop.change(visit, stamp, complaint=COMPLAINTS[order % len(COMPLAINTS)])
    _settle(shop, visit, record, stamp, last)


def _settle(shop: Shop, visit: Visit, record: InstrumentRecord, stamp: Stamp, last: bool) -> None:
    add_line(shop, stamp, visit, "labour", "set-up", "65")
    add_line(shop, stamp, visit, "part", "a set of strings", "12.50")
    if record.strings_changed_at is None or stamp.at - record.strings_changed_at > timedelta(days=150):
        shop.change(record, stamp, strings_changed_at=stamp.at)
    move_visit(shop, visit, "on the bench" if last else "handed back", stamp)


def _work(one: MadeUpInstrument) -> list[Adjustment]:
    """Return what a maker would do by eye: the rod where relief is out, saddles that have screws, tuning."""
    kin = family_of(one.instrument)
    hand, tolerance = kin.target("medium"), kin.tolerances
    found: list[Adjustment] = []
    off = float(np.mean([reading["mm"] for reading in one.relief_readings()])) - hand.relief_mm
    if kin.rod is not None and abs(off) > tolerance.relief_mm:
        eighths = round(-8.0 * off / kin.rod.relief_mm_per_turn.mean)
        turns = float(np.clip(eighths, -2, 2)) / 8.0
        found += [RodTurn(turns=turns)] if turns else []
    if one.instrument.bridge.kind == "individual":
        found.append(SaddleHeight(string=1, mm=0.1 if off < 0 else -0.1))
    return [*found, Tune()] if found else []
