"""How a neck moves with the seasons, and what comes due: from drift, the strings' age, and playing.

Source: straight line through the origin with a Gaussian prior on its slope (Bayesian linear regression), A. Gelman
et al. (2013), Bayesian Data Analysis, 3rd ed., section 14.8. [memory] Figures in capitals: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from math import hypot, sqrt

from breakangle.desk.shop_readings import service_of
from breakangle.desk.shop_visits import history
from breakangle.model.service import Service
from breakangle.planning.readings.gap import Gap
from breakangle.shop.records import InstrumentRecord, Visit
from breakangle.shop.store import Shop
from breakangle.tables.families import family

SLOPE_SPREAD_MM_PER_PERCENT = 0.01  # before anything is known of a neck
GAUGE_MM, CREEP_MM = 0.02, 0.03  # one reading; what wood does without weather between two visits
STRING_DAYS, STRING_HOURS = 180, 100
CHECK_DAYS, CHECK_DAYS_PLAYED_MUCH, MUCH_HOURS_PER_WEEK = 365, 182, 5.0
ACTION_FRET = 11
SURE_SPREADS = 1.0
YEAR_DAYS = 365


@dataclass(frozen=True)
class Drift:
    """What one percent of room humidity does to a figure, in mm, with its standard uncertainty."""

    mm_per_percent: float
    uncertainty: float
    pairs: int


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
class Due:
    """Something that comes due: what, for which instrument, when, and why."""

    what: str
    instrument: InstrumentRecord
    on: date
    why: str


def season_figures(shop: Shop, instrument_id: str) -> tuple[SeasonFigures, ...]:
    """Return what each visit found and left, oldest first.

    Raises:
        NoSuchRecordError: no such instrument.
    """
    return tuple(_figures(visit, service_of(shop, visit.id)) for visit in history(shop, instrument_id))


def _figures(visit: Visit, service: Service) -> SeasonFigures:
    last = max((one.after for one in service.readings), default=0)
    relief = [_mean(service, stage, relief=True) for stage in (0, last)]
    action = [_mean(service, stage, relief=False) for stage in (0, last)]
    return SeasonFigures(
        visit.opened_at,
        visit.humidity_percent,
        relief[0],
        relief[1] or relief[0],
        action[0],
        action[1] or action[0],
    )


def _mean(service: Service, stage: int, relief: bool) -> float | None:
    """Return the mean relief or action read at one stage; None where it was not read."""
    gaps = [one for one in service.readings if isinstance(one, Gap) and one.after == stage]
    if relief:
        found = [one.mm for one in gaps if len(one.held) == 2]
    else:
        found = [one.mm for one in gaps if len(one.held) < 2 and one.fret >= ACTION_FRET]
    return sum(found) / len(found) if found else None


def drift(figures: Sequence[SeasonFigures], action: bool = False) -> Drift:
    """Return how relief (or action) follows humidity, from what happened between one visit and the next."""
    variance = 2.0 * GAUGE_MM**2 + CREEP_MM**2
    information, pull, pairs = 1.0 / SLOPE_SPREAD_MM_PER_PERCENT**2, 0.0, 0
    for left, found in pairwise(figures):
        before = left.action_left_mm if action else left.relief_left_mm
        after = found.action_found_mm if action else found.relief_found_mm
        if None in (before, after, left.humidity_percent, found.humidity_percent):
            continue
        change = (found.humidity_percent or 0.0) - (left.humidity_percent or 0.0)
        information += change**2 / variance
        pull += change * ((after or 0.0) - (before or 0.0)) / variance
        pairs += 1
    return Drift(pull / information, 1.0 / sqrt(information), pairs)


def room_by_month(shop: Shop) -> dict[int, float]:
    """Return the workshop's mean humidity (percent) for each month it was read in."""
    read: dict[int, list[float]] = {}
    for visit in shop.every(Visit):
        if visit.humidity_percent is not None:
            read.setdefault(visit.opened_at.month, []).append(visit.humidity_percent)
    return {month: sum(found) / len(found) for month, found in sorted(read.items())}


def due_for(
    record: InstrumentRecord, room: dict[int, float], visits: Sequence[SeasonFigures]
) -> tuple[Due, ...]:
    """Return what comes due for one instrument, soonest first."""
    hours = record.playing_hours_per_week
    found: list[Due] = []
    if record.strings_changed_at is not None:
        days = STRING_DAYS if not hours else min(STRING_DAYS, round(7 * STRING_HOURS / hours))
        played = f", played {hours:g} hours a week" if hours else ""
        on = record.strings_changed_at.date() + timedelta(days=days)
        found.append(Due("new strings", record, on, f"{days} days on the instrument{played}"))
    if visits:
        found += _season(record, room, visits)
        much = bool(hours and hours >= MUCH_HOURS_PER_WEEK)
        days = CHECK_DAYS_PLAYED_MUCH if much else CHECK_DAYS
        on = visits[-1].opened_at.date() + timedelta(days=days)
        found.append(Due("a check", record, on, f"{days} days after the last visit"))
    return tuple(sorted(found, key=lambda one: one.on))


def _season(record: InstrumentRecord, room: dict[int, float], visits: Sequence[SeasonFigures]) -> list[Due]:
    """Return the first day of the coming year on which relief, and action, will have moved out of tolerance."""
    tolerances, left = family(record.kind).tolerances, visits[-1].humidity_percent
    found: list[Due] = []
    if left is None:
        return found
    for name, tolerance in (("relief", tolerances.relief_mm), ("action", tolerances.action_mm)):
        known = drift(visits, action=name == "action")
        if abs(known.mm_per_percent) < SURE_SPREADS * known.uncertainty:
            continue
        days = [visits[-1].opened_at.date() + timedelta(days=one) for one in range(1, YEAR_DAYS + 1)]
        moves = {month: known.mm_per_percent * (percent - left) for month, percent in room.items()}
        on = next((one for one in days if abs(moves.get(one.month, 0.0)) > tolerance), None)
        if on is not None:
            doubt = hypot(known.uncertainty * (room[on.month] - left), CREEP_MM)
            why = f"the room's {room[on.month]:.0f} % then move it by {moves[on.month]:+.2f} ± {doubt:.2f} mm"
            found.append(Due(name, record, on, why))
    return found


def due(shop: Shop, until: date | None = None) -> tuple[Due, ...]:
    """Return what comes due over the whole shop (by the day `until`, where given), soonest first."""
    room = room_by_month(shop)
    found: list[Due] = []
    for record in shop.every(InstrumentRecord):
        found += due_for(record, room, season_figures(shop, record.id))
    return tuple(sorted((one for one in found if until is None or one.on <= until), key=lambda one: one.on))
