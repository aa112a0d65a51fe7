"""How a neck moves with the seasons, and what comes due: from drift, the strings' age, and playing.

Source: straight line through the origin with a Gaussian prior on its slope (Bayesian linear regression), A. Gelman
et al. (2013), Bayesian Data Analysis, 3rd ed., section 14.8. [memory] Figures in capitals: common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import hypot, sqrt

from breakangle.model.words.message import Message
from breakangle.model.words.speech import mark, tr
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.families import family_of
from breakangle.reference.messages import words
from breakangle.services.history.figures import SeasonFigures
from breakangle.services.visits.visits import instrument_of
from breakangle.storage.records.records import InstrumentRecord

# Where nothing else is said below: common practice, no source.
NOTHING_KNOWN = Known(0.0, 0.01)  # mm per percent, before anything is known of a neck
GAUGE_MM, CREEP_MM = 0.02, 0.03  # one reading; what wood does without weather between two visits
STRING_DAYS, STRING_HOURS = 180, 100
CHECK_DAYS, CHECK_DAYS_PLAYED_MUCH, MUCH_HOURS_PER_WEEK = 365, 182, 5.0
SURE_SPREADS = 1.0
YEAR_DAYS = 365


@dataclass(frozen=True)
class Drift:
    """What one percent of room humidity does to a figure, in mm, with its standard uncertainty."""

    mm_per_percent: float
    uncertainty: float
    pairs: int


# What comes due, by its key and as it is said.
DUE = mark("new strings"), mark("a check"), mark("relief"), mark("action")


@dataclass(frozen=True)
class Due:
    """Something that comes due: what, for which instrument, when, and for which reason."""

    what: str
    instrument: InstrumentRecord
    on: date
    reason: Message

    @property
    def said(self) -> str:
        """Return in words what comes due."""
        return tr(self.what)

    @property
    def why(self) -> str:
        """Return the reason in words, its length in mm."""
        return words(self.reason)


def drift(figures: Sequence[SeasonFigures], action: bool = False, prior: Known = NOTHING_KNOWN) -> Drift:
    """Return how relief (or action) follows humidity, from what happened between one visit and the next.

    Only places count that the one left known and the other read before any work. `prior`: what is believed before
    (`planning.state.effects.season.season_prior`), in mm per percent.
    """
    variance = 2.0 * GAUGE_MM**2 + CREEP_MM**2
    information = 1.0 / prior.uncertainty**2
    pull, pairs = prior.value * information, 0
    for left, found in pairwise(figures):
        before = (left.action if action else left.relief).left
        after = (found.action if action else found.relief).found
        moved = [after[one] - before[one] for one in after if one in before]
        if not moved or left.humidity_percent is None or found.humidity_percent is None:
            continue
        change = found.humidity_percent - left.humidity_percent
        information += change**2 / variance
        pull += change * (sum(moved) / len(moved)) / variance
        pairs += 1
    return Drift(pull / information, 1.0 / sqrt(information), pairs)


def due_for(
    record: InstrumentRecord, room: Mapping[int, float], visits: Sequence[SeasonFigures]
) -> tuple[Due, ...]:
    """Return what comes due for one instrument, soonest first."""
    hours = record.playing_hours_per_week
    due: list[Due] = []
    if record.strings_changed_at is not None:
        days = STRING_DAYS if not hours else min(STRING_DAYS, round(7 * STRING_HOURS / hours))
        played = Message(key="due.strings_played", values={"days": days, "hours": hours or 0.0})
        reason = played if hours else Message(key="due.strings", values={"days": days})
        on = record.strings_changed_at.date() + timedelta(days=days)
        due.append(Due("new strings", record, on, reason))
    if visits:
        due += _season(record, room, visits)
        much = bool(hours and hours >= MUCH_HOURS_PER_WEEK)
        days = CHECK_DAYS_PLAYED_MUCH if much else CHECK_DAYS
        on = visits[-1].opened_at.date() + timedelta(days=days)
        due.append(Due("a check", record, on, Message(key="due.visit", values={"days": days})))
    return tuple(sorted(due, key=lambda one: one.on))


def _season(
    record: InstrumentRecord, room: Mapping[int, float], visits: Sequence[SeasonFigures]
) -> list[Due]:
    """Return the first day of the coming year on which relief, and action, will have moved out of tolerance."""
    tolerances, left = family_of(instrument_of(record)).tolerances, visits[-1].humidity_percent
    due: list[Due] = []
    if left is None:
        return due
    for name, tolerance in (("relief", tolerances.relief_mm), ("action", tolerances.action_mm)):
        known = drift(visits, action=name == "action")
        if not known.pairs or abs(known.mm_per_percent) < SURE_SPREADS * known.uncertainty:
            continue
        days = [visits[-1].opened_at.date() + timedelta(days=one) for one in range(1, YEAR_DAYS + 1)]
        moves = {month: known.mm_per_percent * (percent - left) for month, percent in room.items()}
        on = next((day for day in days if abs(moves.get(day.month, 0.0)) > tolerance), None)
        if on is not None:
            doubt = hypot(known.uncertainty * (room[on.month] - left), CREEP_MM)
            values = {"room": room[on.month], "move": moves[on.month], "doubt": doubt}
            due.append(Due(name, record, on, Message(key="due.season", values=values)))
    return due
