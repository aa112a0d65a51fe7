"""Which targets have been read in this visit, and which stand on a reading that is doubted."""

from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.target_state import Place, Sight, place_of, place_read
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import adjustment_kind, reading_kind, reading_kinds, target_kind
from breakangle.planning.kinds.targets.gap import trade_name

# So likely to be a slip that no work rests on it; common practice, no source.
DOUBTED_FROM = 0.3
PAIR = 2  # strings side by side; exact
Places = NDArray[np.bool_]
Role = tuple[object, ...]


def roles_read(reading: Reading) -> tuple[Role, ...]:
    """Return the roles of the targets that a reading tells of, however its shop takes it."""
    if isinstance(reading, Gap):
        return ((trade_name(reading), reading.string),)
    if isinstance(reading, Pitch) and reading.harmonic is None:
        return (("intonation", reading.string),)
    return ()


def _told(readings: Sequence[Reading], sight: Sight) -> Places:
    """Return which targets any of the readings tells of, (T,)."""
    roles = {role for one in readings for role in roles_read(one)}
    return np.array([target_kind(one).role(one) in roles for one in sight.targets], dtype=bool)


def read_in_visit(service: Service, sight: Sight) -> Places:
    """Return which targets have been read in this visit, in any convention, (T,)."""
    stopped = [one for one in service.readings if not isinstance(one, Pitch) or one.fret > 0]
    return _told(stopped, sight)


def stages_read_whole(service: Service, sight: Sight) -> int:
    """Return between how many pieces of work everything that is wanted was read, in any convention."""
    stages: dict[int, list[Reading]] = {}
    for one in service.readings:
        if not isinstance(one, Pitch) or one.fret > 0:
            stages.setdefault(one.after, []).append(one)
    return sum(bool(_told(readings, sight).all()) for readings in stages.values())


def slip_chances(service: Service, now: Estimate, sight: Sight, ever: bool = False) -> NDArray[np.float64]:
    """Return how likely each target rests on a slip of the pen, (T,): of figures read once since the last step.

    `ever`: of figures read once in the whole visit.
    """
    found = np.zeros(len(sight.targets))
    if now.evidence is None:
        return found
    here = [one for one in service.readings if ever or one.after == len(service.work)]
    times = Counter(place_read(one) for one in here)
    causes = len(now.evidence.causes.all)
    roles = [target_kind(one).role(one) for one in sight.targets]
    for index, reading in enumerate(now.evidence.readings):
        if times[place_read(reading)] == 1 and (ever or reading.after == len(service.work)):
            likely, told = now.evidence.probability(causes + index), roles_read(reading)
            found = np.maximum(found, [likely if role in told else 0.0 for role in roles])
    return found


def doubted(service: Service, now: Estimate, sight: Sight) -> Places:
    """Return which targets stand on a figure that was read once, just now, and that is likely to be a slip, (T,)."""
    return np.asarray(slip_chances(service, now, sight) >= DOUBTED_FROM)


def unlike_the_rest(service: Service, now: Estimate, sight: Sight) -> Places:
    """Return which targets were read once, just now, otherwise than the rest lead one to expect, (T,)."""
    here = [one for one in service.readings if one.after == len(service.work)]
    times = Counter(place_read(one) for one in here)
    odd = [
        one.reading for one in now.surprises if one.reading in here and times[place_read(one.reading)] == 1
    ]
    return _told(odd, sight)


def beside_alike(service: Service) -> frozenset[Place]:
    """Return the gaps that were written down, last, with just the figure of the one string beside theirs.

    Where more strings than two in a row read the same, they speak together: nobody writes one figure down for all.
    """
    last = {(one.string, one.fret, one.held): one for one in service.readings if isinstance(one, Gap)}

    def same(string: int, one: Gap) -> bool:
        other = last.get((string, one.fret, one.held))
        return other is not None and other.mm == one.mm

    def alike(one: Gap) -> list[int]:
        found = [one.string]
        for way in (-1, 1):
            string = one.string + way
            while same(string, one):
                found.append(string)
                string += way
        return found

    return frozenset(place_read(one) for one in last.values() if len(alike(one)) == PAIR)


def times_read(service: Service, sight: Sight, ever: bool = False) -> NDArray[np.intp]:
    """Return how often each target has been read since the last work that a person reads there to check, (T,).

    `ever`: in the whole visit.
    """
    since = np.zeros(len(sight.targets), dtype=int)
    for stage, done in enumerate(() if ever else service.work, start=1):
        verified = adjustment_kind(done).verified_by
        since = np.where([verified(done, one) for one in sight.targets], stage, since)
    told: dict[Role, list[int]] = {}
    for one in service.readings:
        if one.quantity != "pitch" or one.fret > 0:
            for role in roles_read(one):
                told.setdefault(role, []).append(one.after)
    roles = [target_kind(one).role(one) for one in sight.targets]
    return np.array(
        [
            sum(after >= stage for after in told.get(role, ()))
            for role, stage in zip(roles, since.tolist(), strict=True)
        ],
        dtype=np.intp,
    )


def reading_noise(service: Service, targets: Sequence[Target]) -> np.ndarray:
    """Return the spread of one more reading of each target, (T,): as this visit's gauge states it, else as usual."""
    stated = {
        (one.quantity, role[0]): reading_kind(one).spread(one)
        for one in service.readings
        for role in roles_read(one)
    }
    found = []
    for target in targets:
        kind = reading_kinds()[place_of(target)[0]]
        gauge = stated.get((kind.name, target_kind(target).role(target)[0]), kind.gauge_spread)
        found.append(np.hypot(gauge, kind.scatter))
    return np.array(found)
