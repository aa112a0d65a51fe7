"""How an instrument stood when it came and stands now, figure by figure, against what is wanted, as far as was read."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.service import Service
from breakangle.planning.estimate import Estimate
from breakangle.planning.house import targets_of
from breakangle.planning.registry import reading_kind, target_kind
from breakangle.planning.sight import Sight, sight_of


@dataclass(frozen=True)
class Figure:
    """One wanted figure, before and after: values and standard uncertainties in `unit`; unknown where not `judged`."""

    group: str
    string: int
    fret: int
    unit: str
    wanted: float
    tolerance: float
    before: float
    before_spread: float
    before_judged: bool
    after: float
    after_spread: float
    after_judged: bool

    def off(self, after: bool) -> float:
        """Return how far it is from what is wanted, in its unit."""
        return (self.after if after else self.before) - self.wanted

    def inside(self, after: bool) -> bool:
        """Return whether it is within its tolerance."""
        return abs(self.off(after)) <= self.tolerance + 1e-9

    def judged(self, after: bool) -> bool:
        """Return whether readings tell enough of it."""
        return self.after_judged if after else self.before_judged


@dataclass(frozen=True)
class Group:
    """All figures of one sort, such as the action of every string."""

    name: str
    unit: str
    figures: tuple[Figure, ...]

    def judged(self, after: bool) -> tuple[Figure, ...]:
        """Return the figures that readings tell enough of."""
        return tuple(one for one in self.figures if one.judged(after))

    def outside(self, after: bool) -> tuple[Figure, ...]:
        """Return the figures known to be out of tolerance."""
        return tuple(one for one in self.judged(after) if not one.inside(after))

    def spread(self, after: bool) -> float:
        """Return the widest standard uncertainty of what is judged, in its unit."""
        judged = self.judged(after)
        return max(((one.after_spread if after else one.before_spread) for one in judged), default=0.0)


@dataclass(frozen=True)
class Standing:
    """The whole: groups in the order of work, and whether anything was read after the last adjustment."""

    groups: tuple[Group, ...]
    read_after: bool
    hand: str


ORDER = ("relief", "action", "nut clearance", "intonation")


def standing_of(service: Service, before: Estimate, after: Estimate) -> Standing:
    """Return how the service's instrument stood and stands.

    What earlier visits tell alone is no finding of this one: a figure nobody read at it counts as not read.

    Args:
        service: the whole visit.
        before: its state from the readings before any work.
        after: its state from all readings and work.
    """
    targets = targets_of(service, after.board)
    then, now = sight_of(before, targets.wanted), sight_of(after, targets.wanted)
    units = [
        {reading_kind(one).unit for one in service.readings if one.after == 0},
        {reading_kind(one).unit for one in service.readings},
    ]
    found: dict[str, list[Figure]] = {}
    for index, target in enumerate(targets.wanted):
        kind = target_kind(target)
        name = str(kind.role(target)[0])
        found.setdefault(name, []).append(_figure(index, name, kind.unit, (then, now), units))
    names = sorted(found, key=lambda name: ORDER.index(name) if name in ORDER else len(ORDER))
    groups = tuple(Group(name, found[name][0].unit, tuple(found[name])) for name in names)
    last = max((one.after for one in service.readings), default=-1)
    return Standing(groups, last >= len(service.work) and bool(service.readings), targets.hand)


def _figure(
    index: int, name: str, unit: str, sights: tuple[Sight, Sight], units: Sequence[set[str]]
) -> Figure:
    """Return a figure; judged only if anything of its unit was read by then at this very visit."""
    then, now = sights
    target = now.targets[index]
    kind = target_kind(target)
    return Figure(
        group=name,
        string=target.string,
        fret=int(getattr(target, "fret", 0)),
        unit=unit,
        wanted=kind.wanted(target),
        tolerance=kind.tolerance(target),
        before=float(then.value[index]),
        before_spread=float(then.spread[index]),
        before_judged=bool(then.judged[index]) and unit in units[0],
        after=float(now.value[index]),
        after_spread=float(now.spread[index]),
        after_judged=bool(now.judged[index]) and unit in units[1],
    )


def as_it_came(service: Service) -> Service:
    """Return the visit as it stood before any work: the readings taken by then."""
    readings = tuple(one for one in service.readings if one.after == 0)
    return service.model_copy(update={"readings": readings, "work": ()})


def by_string(figures: Sequence[Figure], instrument: Instrument) -> dict[int, Figure]:
    """Return figures by their string; where a string has several, the first."""
    found: dict[int, Figure] = {}
    for one in figures:
        found.setdefault(one.string, one)
    return {one.string: found[one.string] for one in instrument.in_order() if one.string in found}


def worst(figures: Sequence[Figure], after: bool) -> Figure:
    """Return the figure farthest out, in its own tolerances."""
    return figures[int(np.argmax([abs(one.off(after)) / one.tolerance for one in figures]))]
