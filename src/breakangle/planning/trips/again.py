"""What is cut is taken in hand once: a second time only after a reading that came out otherwise than expected.

Or for a figure that reads outside its tolerance and was left so: that is told. Nor is the rod turned back while relief
reads inside.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.planning.estimate.estimate import Estimate, adjusted, estimate
from breakangle.planning.estimate.target_state import Sight, place_read
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.reading_names import reading_named
from breakangle.planning.kinds.readings.gap import is_gap
from breakangle.planning.kinds.registry import adjustment_kind, reading_kind, target_kind
from breakangle.planning.kinds.targets.gap import is_relief
from breakangle.planning.solve.decide import Decision
from breakangle.planning.trips.kinds import TripKind, trip_kind
from breakangle.planning.trips.step_reasons import figure, wanted
from breakangle.reference.messages import words

KEPT = "trips.kept_hand"
# Derived: 19 times in 20 of a normal distribution.
WIDE_SPREADS = 2.0  # what a plan states as ±: it holds 19 times in 20


@dataclass(frozen=True)
class Unexpected:
    """A reading outside what was expected of it, `low` to `high`, in the unit of its kind."""

    reading: Reading
    read: float
    low: float
    high: float

    @property
    def figures(self) -> dict[str, float | str]:
        """Return its figures as a message's values."""
        kind = reading_kind(self.reading)
        values = {"low": self.low, "high": self.high, "read": self.read}
        return {"place": reading_named(self.reading), "unit": kind.unit, **values}


@dataclass(frozen=True)
class Again:
    """What a decision would take in hand a second time: what speaks for it, or that nothing does.

    `spared` are the adjusters to leave, of trips that no reading gives cause to make again; `messages` say either.
    """

    spared: tuple[Adjustment, ...]
    messages: tuple[Message, ...]


def turned_back(service: Service, sight: Sight, decision: Decision) -> Again:
    """Return the rod's turn where it would undo the last one though relief reads inside its tolerance.

    A gauge cannot tell relief near an edge from relief over it, so each reading would send the rod the other way.
    """
    turns = [one for one in service.work if isinstance(one, RodTurn)]
    moves = [move for lever, amount in decision.moves for move in lever.made(amount)]
    back = tuple(
        one for one in moves if isinstance(one, RodTurn) and turns and one.turns * turns[-1].turns < 0.0
    )
    relief = np.array([is_relief(one) for one in sight.targets])
    if not back or (relief & (~sight.inside | last_read_outside(service, sight))).any():
        return Again((), ())
    return Again(back, (Message(key="trips.kept_rod"),))


def in_hand_again(service: Service, sight: Sight, decision: Decision) -> Again:
    """Return which of the decision's cuts are not to be made, and why the others are made once more."""
    spared: list[Adjustment] = []
    messages: list[Message] = []
    for kind, ended in _ended(service).items():
        cuts = [
            move
            for lever, amount in decision.moves
            for move in lever.made(amount)
            if trip_kind(move, service.instrument) is kind
        ]
        if cuts:
            message = _cause(service, sight, kind, ended, cuts)
            messages.append(message)
            spared += cuts if message.key == KEPT else []
    return Again(tuple(spared), tuple(messages))


def _cause(service: Service, sight: Sight, kind: TripKind, ended: int, cuts: Sequence[Adjustment]) -> Message:
    """Return why more is cut of what was in hand before: a reading, or a figure left outside; or that nothing is."""
    thing = words(Message(key=f"trips.thing_{kind.name}"))
    odd = next(iter(unexpected(service, ended, cuts)), None)
    if odd is not None:
        return Message(key="trips.again_reading", values={"thing": thing, **odd.figures})
    left = served(cuts, sight) & sight.judged & (~sight.inside | last_read_outside(service, sight))
    out = np.flatnonzero(left)
    if not len(out):
        return Message(key=KEPT, values={"thing": thing})
    worst = int(max(out, key=lambda index: abs(sight.off[index]) / sight.tolerance[index]))
    target = sight.targets[worst]
    what = target_kind(target).words(target, service.instrument)
    figures = {"what": what, "reads": figure(sight, worst), "wanted": wanted(sight, worst)}
    return Message(key="trips.again_outside", values={"thing": thing, **figures})


def last_read_outside(service: Service, sight: Sight) -> NDArray[np.bool_]:
    """Return which gaps were outside their tolerance when they were last read, (T,)."""
    last = {place_read(one): float(one.mm) for one in service.readings if is_gap(one)}  # type: ignore[attr-defined]
    read = np.array([last.get(place, np.nan) for place in sight.places])
    return np.asarray(np.abs(read - (sight.value - sight.off)) > sight.tolerance + 1e-9)


def _ended(service: Service) -> dict[TripKind, int]:
    """Return the trips made in this service that cut and have come to their end, with how much work was done then."""
    kinds = [trip_kind(one, service.instrument) for one in service.work]
    found = {}
    for kind in dict.fromkeys(kinds):
        last = max(place for place, one in enumerate(kinds) if one is kind)
        # A slot filed part of the way and read is still in hand; a saddle that carries strings to read is not.
        read = not kind.read_in_hand and any(one.after > last for one in service.readings)
        if kind.cuts and (read or last + 1 < len(kinds)):
            found[kind] = last + 1
    return found


def unexpected(service: Service, ended: int, cuts: Sequence[Adjustment]) -> Iterator[Unexpected]:
    """Yield the readings of what `cuts` serve that came out otherwise than expected, farthest off first.

    Those taken after `ended` pieces of work are looked at. Expected is what all that was read before then leads to, as
    a plan states it.
    """
    now = _then(service, ended)
    found: list[tuple[float, Unexpected]] = []
    for stage in range(ended, len(service.work) + 1):
        here = [one for one in service.readings if one.after == stage and _serves(cuts, one)]
        found += outside_expected(now, here)
        if stage < len(service.work):
            now = adjusted(now, service.work[stage])
    yield from (one for _, one in sorted(found, key=lambda each: -each[0]))


def _then(service: Service, ended: int) -> Estimate:
    """Return the state after so much work, from what had been read before its last piece was done."""
    readings = tuple(one for one in service.readings if one.after < ended)
    return estimate(service.model_copy(update={"readings": readings, "work": service.work[:ended]}))


def served(cuts: Sequence[Adjustment], sight: Sight) -> NDArray[np.bool_]:
    """Return which targets one of the cuts is made for, (T,)."""
    return np.array(
        [any(adjustment_kind(one).verified_by(one, target) for one in cuts) for target in sight.targets]
    )


def _serves(cuts: Sequence[Adjustment], reading: Reading) -> bool:
    """Return whether a reading is of what one of the cuts is made for: a gap, or a stopped note of its string."""
    if reading.quantity == "pitch":
        shaped = {string for one in cuts if isinstance(one, SaddlePosition) for string in one.strings}
        return bool(reading.fret) and reading.string in shaped
    return any(adjustment_kind(one).verified_by(one, reading) for one in cuts)  # type: ignore[arg-type]


def outside_expected(now: Estimate, readings: Sequence[Reading]) -> Iterator[tuple[float, Unexpected]]:
    """Yield how many stated ± each reading lies from what was expected, with it, where that is more than one."""
    for one in readings:
        kind = reading_kind(one)
        told = kind.predict([one], now.picture)
        expected, wide = float(told.values[0]), WIDE_SPREADS * float(now.belief.spread(told.rows)[0])
        read = kind.value(one, now.board)
        low, high = expected - wide, expected + wide
        if kind.unit == "mm":
            # A gap is never shown below nothing, whatever a straight string would do.
            read, low, high = (max(each, 0.0) for each in (read, low, high))
        if not low <= read <= high:
            yield abs(read - expected) / max(wide, 1e-9), Unexpected(one, read, low, high)
