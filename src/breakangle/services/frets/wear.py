"""Wear of frets over visits: how fast grooves deepen, and when the frets will want levelling, in messages."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr
from breakangle.physics.making.wear import WearRate, wear_rate
from breakangle.planning.kinds.adjustments.fret_level import FretLevel
from breakangle.planning.kinds.readings.groove_depth import GAUGE_SPREAD_MM, GrooveDepth

# Where nothing else is said below: common practice, no source.
LIMIT_MM = 0.15  # a groove so deep catches a bent string and sounds; such frets are levelled
TOLD = 3  # grooves told of, the soonest first; chosen
DAYS_A_YEAR = 365.2425  # exact: mean of the calendar
FAR_YEARS = 30.0  # nobody foretells a fret's wear farther than that


@dataclass(frozen=True)
class Worn:
    """One crown's wear: under which string, at which fret, how fast, and over how many years it was read."""

    string: int
    fret: int
    rate: WearRate
    years: float


def worn(visits: Sequence[tuple[date, Service]]) -> tuple[Worn, ...]:
    """Return the wear of every crown whose groove was read on two days or more since frets were last levelled.

    `visits`: when each was read and what stands of it, oldest first. The soonest to reach its limit comes first.
    """
    depths: dict[tuple[int, int], list[tuple[float, float, float]]] = {}
    for day, service in visits:
        levelled = [at for at, one in enumerate(service.work, 1) if isinstance(one, FretLevel)]
        for one in service.readings:
            if isinstance(one, GrooveDepth) and (not levelled or one.after < levelled[0]):
                _put(depths, one, day)
        if levelled:
            depths.clear()
            for one in service.readings:
                if isinstance(one, GrooveDepth) and one.after >= levelled[-1]:
                    _put(depths, one, day)
    found = []
    for (string, fret), read in depths.items():
        when, depth, gauge = (np.array(one) for one in zip(*read, strict=True))
        if np.ptp(when) > 0.0:
            found.append(Worn(string, fret, wear_rate(when, depth, gauge), float(np.ptp(when))))
    return tuple(sorted(found, key=lambda one: one.rate.years_to(LIMIT_MM)[0]))


def _put(
    depths: dict[tuple[int, int], list[tuple[float, float, float]]], one: GrooveDepth, day: date
) -> None:
    place = (one.string, one.fret)
    told = (day.toordinal() / DAYS_A_YEAR, one.mm, one.uncertainty_mm or GAUGE_SPREAD_MM)
    depths.setdefault(place, []).append(told)


def wear_words(found: Sequence[Worn]) -> tuple[Message, ...]:
    """Return what is to be said of the wear; empty where no groove was read on two days."""
    if not found:
        return ()
    moving = [one for one in found if one.rate.interval[0] > 0.0]
    deep = [one for one in found if one.rate.depth_mm >= LIMIT_MM]
    said = [_now(one) for one in deep[:TOLD]]
    for one in [each for each in moving if each not in deep][:TOLD]:
        said += [_rate(one), _due(one)]
    if not said:
        said.append(Message(key="frets.wear_slow", values={"years": max(one.years for one in found)}))
    return tuple(said)


def _rate(one: Worn) -> Message:
    low, high = one.rate.interval
    values = {"fret": one.fret, "string": one.string, "rate": one.rate.mm_per_year, "low": low, "high": high}
    return Message(key="frets.wear", values=values, about=(f"fret {one.fret}",))


def _due(one: Worn) -> Message:
    years, soonest, latest = one.rate.years_to(LIMIT_MM)
    far = tr("more than {years:.0f}", years=FAR_YEARS)
    values = {
        "fret": one.fret,
        "years": min(years, FAR_YEARS),
        "soonest": min(soonest, FAR_YEARS),
        "latest": far if latest > FAR_YEARS else tr("{years:.1f}", years=latest),
        "limit": LIMIT_MM,
    }
    return Message(key="frets.wear_due", values=values, about=(f"fret {one.fret}",))


def _now(one: Worn) -> Message:
    values = {"fret": one.fret, "string": one.string, "depth": one.rate.depth_mm, "limit": LIMIT_MM}
    return Message(key="frets.wear_now", values=values, about=(f"fret {one.fret}",), severity="care")
