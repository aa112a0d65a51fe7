"""How an instrument stood when it came and stands now, figure by figure, against what is wanted, as far as was read."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.target_state import Sight, sight_of
from breakangle.planning.kinds.registry import adjustment_kind, target_kind
from breakangle.planning.verdict.as_read import as_read, figure_read, taken, was_read
from breakangle.planning.verdict.moved import Worked


@dataclass(frozen=True)
class Figure:
    """One wanted figure, before and after: values and standard uncertainties in `unit`; unknown where not `judged`.

    Values and uncertainties are those that a plan shows. `before_read`, `after_read`: what a gauge read there, where
    that still stands; else the value is only reckoned. `before_inside`, `after_inside`: whether work on it would be
    decided on as inside its tolerance, which a doubtful reading can make another thing than what is shown.
    """

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
    before_inside: bool
    after_inside: bool
    before_read: float | None = None
    after_read: float | None = None

    def printed(self, after: bool) -> float:
        """Return the figure to print: as it was read where it was, else as reckoned."""
        read = self.read(after)
        return read if read is not None else self.after if after else self.before

    def read(self, after: bool) -> float | None:
        """Return what was read, or None where the figure is reckoned."""
        return self.after_read if after else self.before_read

    def off(self, after: bool) -> float:
        """Return how far it is from what is wanted, in its unit."""
        return (self.after if after else self.before) - self.wanted

    def inside(self, after: bool) -> bool:
        """Return whether it is within its tolerance, as a plan decides that."""
        return self.after_inside if after else self.before_inside

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
        return tuple(figure for figure in self.figures if figure.judged(after))

    def all_judged(self, after: bool) -> bool:
        """Return whether every one of its figures was read and can be told in from out."""
        return all(figure.judged(after) for figure in self.figures)

    def reckoned(self, after: bool) -> tuple[Figure, ...]:
        """Return the figures that are judged although no gauge has read them as they stand."""
        return tuple(one for one in self.judged(after) if one.read(after) is None)

    def outside(self, after: bool) -> tuple[Figure, ...]:
        """Return the figures known to be out of tolerance."""
        return tuple(one for one in self.judged(after) if not one.inside(after))

    def spread(self, after: bool) -> float:
        """Return the widest standard uncertainty of what is judged, in its unit."""
        judged = self.judged(after)
        return max(((one.after_spread if after else one.before_spread) for one in judged), default=0.0)


@dataclass(frozen=True)
class Standing:
    """The whole: groups in the order of work, and whether anything was read after the last adjustment.

    `worked` names the groups that were worked on, `declined` those whose adjuster the owner wished left.
    """

    groups: tuple[Group, ...]
    read_after: bool
    hand: str
    worked: frozenset[str] = frozenset()
    declined: frozenset[str] = frozenset()


ORDER = ("relief", "action", "nut clearance", "intonation")


def standing_of(
    service: Service, before: Estimate, after: Estimate, declined: Sequence[Adjustment] = ()
) -> Standing:
    """Return how the service's instrument stood and stands.

    What earlier visits tell alone is no finding of this one: a figure nobody read at it counts as not read.

    Args:
        service: the whole visit.
        before: its state from the readings before any work.
        after: its state from all readings and work.
        declined: what the owner wished left undone.
    """
    targets, first = targets_of(service, after.board), as_it_came(service)
    then, now = (_side(one, state, targets.wanted) for one, state in ((first, before), (service, after)))
    found: dict[str, list[Figure]] = {}
    for index, target in enumerate(targets.wanted):
        name = str(target_kind(target).role(target)[0])
        found.setdefault(name, []).append(_figure(index, name, then, now))
    names = sorted(found, key=lambda name: ORDER.index(name) if name in ORDER else len(ORDER))
    groups = tuple(Group(name, found[name][0].unit, tuple(found[name])) for name in names)
    last = max((reading.after for reading in service.readings), default=-1)
    return Standing(
        groups,
        last >= len(service.work) and bool(service.readings),
        targets.hand,
        served(service.work, targets.wanted),
        served(declined, targets.wanted),
    )


def served(moves: Sequence[Adjustment], targets: Sequence[Target]) -> frozenset[str]:
    """Return the names of the groups that these moves are made for; strings and tuning are made for none."""
    planned = [move for move in moves if adjustment_kind(move).planned]
    return frozenset(
        str(target_kind(target).role(target)[0])
        for target in targets
        for one in planned
        if adjustment_kind(one).verified_by(one, target)
    )


@dataclass(frozen=True)
class _Side:
    """The targets in one state: as they stand, which of them were read at all, and what a gauge read, if it stands.

    `sight` is as a plan shows them, `inside` as it decides on them.
    """

    sight: Sight
    inside: tuple[bool, ...]
    judged: tuple[bool, ...]
    read: tuple[float | None, ...]


def _side(service: Service, now: Estimate, targets: Sequence[Target]) -> _Side:
    decided, known, worked = sight_of(now, targets), taken(service.readings), Worked(service, now)
    judged = tuple(
        bool(sure) and was_read(one, known) for one, sure in zip(targets, decided.judged, strict=True)
    )
    read = []
    for one in targets:
        reading = as_read(service, one, now, worked)
        read.append(None if reading is None else figure_read(reading, now))
    inside = tuple(bool(one) for one in decided.inside)
    return _Side(sight_of(now.stated, targets), inside, judged, tuple(read))


def _figure(index: int, name: str, then: _Side, now: _Side) -> Figure:
    """Return a figure; judged only if anybody read it by then at this very visit."""
    target = now.sight.targets[index]
    kind = target_kind(target)
    return Figure(
        group=name,
        string=target.string,
        fret=int(getattr(target, "fret", 0)),
        unit=kind.unit,
        wanted=kind.wanted(target),
        tolerance=kind.tolerance(target),
        before=float(then.sight.value[index]),
        before_spread=float(then.sight.spread[index]),
        before_judged=then.judged[index],
        after=float(now.sight.value[index]),
        after_spread=float(now.sight.spread[index]),
        after_judged=now.judged[index],
        before_read=then.read[index],
        after_read=now.read[index],
        before_inside=then.inside[index],
        after_inside=now.inside[index],
    )


def as_it_came(service: Service) -> Service:
    """Return the visit as it stood before any work: the readings taken by then."""
    readings = tuple(reading for reading in service.readings if reading.after == 0)
    return service.model_copy(update={"readings": readings, "work": ()})


def by_string(figures: Sequence[Figure], instrument: Instrument) -> dict[int, Figure]:
    """Return figures by their string; where a string has several, the first."""
    found: dict[int, Figure] = {}
    for one in figures:
        found.setdefault(one.string, one)
    return {one.string: found[one.string] for one in instrument.in_order() if one.string in found}


def worst(figures: Sequence[Figure], after: bool) -> Figure:
    """Return the figure farthest out, in its own tolerances."""
    return figures[int(np.argmax([abs(figure.off(after)) / figure.tolerance for figure in figures]))]
