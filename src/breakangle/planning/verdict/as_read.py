"""Figures as a gauge read them: the last reading of a target's own place that no work has moved since."""

from collections import defaultdict
from collections.abc import Iterable
from typing import cast

from breakangle.model.reading import Reading, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.target_state import place_of, place_read
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import reading_kind, target_kind
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.state.effects.body import carried_by_body
from breakangle.planning.verdict.moved import Worked

# Exact.
OCTAVE = 2  # the harmonic that an open string is read by where its body pulls the open note
RECKONED, RELIEF = "≈", "relief"


def as_read(service: Service, target: Target, now: Estimate, worked: Worked | None = None) -> Reading | None:
    """Return what was last read of `target`, in its own convention and unit; None where it is not known as read.

    None too where work since has moved its place by as much as the last digit that is shown. Intonation is the stopped
    note's reading less that of its own open string (or the octave's harmonic), both read at one time.
    """
    kind, worked = target_kind(target), worked or Worked(service, now)
    place = place_of(target)
    taken = [one for one in service.readings if place_read(one) == place]
    if not taken:
        return None
    last = max(taken, key=lambda one: one.after)
    last = [one for one in taken if one.after == last.after][-1]
    if worked.since(last).at_all(0.5 * 10.0**-kind.decimals):
        return None
    if isinstance(last, Pitch):
        return _beside_the_open(service, last, now)
    return last


def _beside_the_open(service: Service, stopped: Pitch, now: Estimate) -> Reading | None:
    """Return a stopped note's cents from the open string's; None where the open string was not read with it."""
    beside = [
        one
        for one in service.readings
        if isinstance(one, Pitch)
        and (one.string, one.after) == (stopped.string, stopped.after)
        and (one.harmonic == OCTAVE or (one.fret == 0 and one.harmonic is None))
    ]
    if not beside:
        return None
    # A body pulls open notes: where one carries the bridge and the harmonic was read, that is what counts.
    by_harmonic = carried_by_body(now.board.instrument)
    plain = [one for one in beside if (one.harmonic is None) is not by_harmonic] or beside
    value = reading_kind(stopped).value
    cents = value(stopped, now.board) - value(plain[-1], now.board)
    if not -250.0 <= cents <= 250.0:
        return None
    return Pitch(string=stopped.string, fret=stopped.fret, cents=round(cents, 2), after=stopped.after)


def figure_read(reading: Reading, now: Estimate) -> float:
    """Return a reading's own figure: nothing is nothing, whatever a string on a crown stands for."""
    mm = getattr(reading, "mm", None)
    return float(mm) if mm is not None else float(reading_kind(reading).value(reading, now.board))


Taken = frozenset[tuple[str, int]]
# Chosen: a name for a number.
ANY_STRING = 0


def taken(readings: Iterable[Reading]) -> Taken:
    """Return which sorts of figure were read at which strings, in whatever convention.

    Relief is the neck's: read at one string, it was read. Intonation is a stopped note and its open string or harmonic,
    read at one time.
    """
    found: set[tuple[str, int]] = set()
    pitches: dict[tuple[int, int], set[bool]] = defaultdict(set)
    for one in readings:
        if isinstance(one, Gap):
            name = trade_name(cast(GapTarget, one))
            found.add((name, ANY_STRING if name == RELIEF else one.string))
        elif isinstance(one, Pitch):
            pitches[one.string, one.after].add(bool(one.fret) and one.harmonic is None)
    found |= {("intonation", string) for (string, _), sorts in pitches.items() if len(sorts) > 1}
    return frozenset(found)


def was_read(target: Target, read: Taken) -> bool:
    """Return whether anybody has read the figure that `target` wants, at its own string."""
    name = str(target_kind(target).role(target)[0])
    return (name, ANY_STRING if name == RELIEF else target.string) in read
