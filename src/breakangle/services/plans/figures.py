"""Each figure that is wanted: as it reads now and after the plan, and what is to be done about it."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from breakangle.model.reading import Reading, Target
from breakangle.planning.estimate.reading_state import read_in_visit
from breakangle.planning.kinds.registry import reading_kind, target_kind
from breakangle.planning.solve.unreached import OUTSIDE_SHARE
from breakangle.services.plans.solved_visits import Solved
from breakangle.services.visits.reading_places import Place, place_of

LEAVE, STOP, ADJUST, BEYOND, UNREAD = "leave", "stop", "adjust", "beyond", "unread"
WAITS = "waits"


@dataclass(frozen=True)
class Figure:
    """One figure that is wanted: what it is, as it reads now and after the plan, and what is to be done about it.

    `status`: `leave` inside its tolerance, `stop` closer than a gauge or an ear can tell, `adjust`, `waits` while
    something is to be read before work on it is planned, `beyond` a set-up, `unread` where no reading tells enough.
    `course` is the one that its string shares with others, `quantity` what the trade calls it, such as `action`.
    """

    words: str
    unit: str
    now: float
    now_spread: float
    wanted: float
    tolerance: float
    then: float
    then_spread: float
    status: str
    course: int | None = None
    quantity: str = ""
    string: int = 0

    @property
    def inside(self) -> bool:
        """Return whether it stands within its tolerance as it is now, whatever is to be done about it."""
        return abs(self.now - self.wanted) <= self.tolerance


def figures(solved: Solved, asked: Collection[Place] = ()) -> tuple[Figure, ...]:
    """Return every figure that is wanted, those of one quantity together, from the low string to the high one.

    `asked` are the places that are asked to be read: nothing is called right and asked for in one breath.
    """
    sight, instrument = solved.sight, solved.service.instrument_now()
    moved = {place_of(reading) for step in solved.plan.steps for reading in step.expect}
    read = read_in_visit(solved.service, sight)
    found = []
    for index, target in enumerate(sight.targets):
        kind = target_kind(target)
        (now, now_spread), (then, then_spread) = (
            _value(state.readings[index]) for state in (solved.plan.now, solved.plan.then)
        )
        status = _status(target, float(sight.off[index]), bool(sight.judged[index]), then)
        if index in solved.plan.unreached and status in (ADJUST, WAITS):
            status = BEYOND
        place = place_of(sight.reading(index))
        if status in (LEAVE, STOP):
            status = _not_left(status, place in moved, bool(read[index]), place in asked)
        if (status == BEYOND or (status == UNREAD and read[index])) and solved.plan.questions:
            status = WAITS  # what work would do, or whether to believe it, is told once what is asked has been read
        found.append(
            Figure(
                words=kind.words(target, instrument),
                unit=kind.unit,
                now=now,
                now_spread=now_spread,
                wanted=kind.wanted(target),
                tolerance=kind.tolerance(target),
                then=then,
                then_spread=then_spread,
                status=status,
                course=instrument.course_of(target.string),
                quantity=str(kind.role(target)[0]),
                string=target.string,
            )
        )
    roles = [one.quantity for one in found]
    first = list(dict.fromkeys(roles))
    order = sorted(
        range(len(found)), key=lambda index: (first.index(roles[index]), -sight.targets[index].string)
    )
    return tuple(found[index] for index in order)


def _not_left(status: str, moved: bool, read: bool, asked: bool) -> str:
    """Return what a figure inside its tolerance is told as, where that is not `status`."""
    if moved:
        return ADJUST  # near its edge, and a step is there for it: not to be told as left alone
    if not read:
        return UNREAD  # nothing is called right that nobody has read in this visit
    return WAITS if asked else status


def paired(found: Sequence[Figure]) -> tuple[tuple[Figure, ...], ...]:
    """Return the figures in rows: those of one quantity whose strings share a course in one, any other by itself."""
    rows: list[list[Figure]] = []
    for one in found:
        before = rows[-1][-1] if rows else None
        if before and one.course and (one.course, one.quantity) == (before.course, before.quantity):
            rows[-1].append(one)
        else:
            rows.append([one])
    return tuple(tuple(row) for row in rows)


def _value(reading: Reading) -> tuple[float, float]:
    unit = reading_kind(reading).unit
    return float(getattr(reading, unit)), float(getattr(reading, f"uncertainty_{unit}"))


def _status(target: Target, off: float, judged: bool, then: float) -> str:
    """Return what is to be done about a figure, but for what the plan calls beyond a set-up."""
    kind = target_kind(target)
    edge = kind.tolerance(target) * (1.0 + OUTSIDE_SHARE)
    resolved = reading_kind(kind.as_reading(target, 0.0, 1.0)).gauge_spread
    if not judged:
        return UNREAD
    if abs(off) <= min(resolved, kind.tolerance(target)):
        return STOP
    if abs(off) <= kind.tolerance(target):
        return LEAVE
    return ADJUST if np.abs(then - kind.wanted(target)) <= edge else WAITS
