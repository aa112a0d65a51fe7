"""The page of a plan: each step in words, each figure now and then, and what is as plainly to be left alone."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from breakangle.desk.compare import undecided
from breakangle.desk.reading_places import Place, place_of
from breakangle.desk.solved import Solved
from breakangle.model.instrument import Instrument
from breakangle.model.plan import Step
from breakangle.model.reading import Adjustment, Reading, Target
from breakangle.planning.ask import TWICE
from breakangle.planning.registry import adjustment_kind, adjustment_kinds, reading_kind, target_kind
from breakangle.planning.unreached import OUTSIDE_SHARE

LEAVE, STOP, ADJUST, BEYOND, UNREAD = "leave", "stop", "adjust", "beyond", "unread"
AMOUNTS = ("turns", "mm", "degrees")


@dataclass(frozen=True)
class ReadAfter:
    """What to read after a step: where, in words, and what it should then be, with one standard deviation."""

    words: str
    reading: Reading


@dataclass(frozen=True)
class StepTold:
    """One step: `title` says what to do, `why` the reason, `amount` and `unit` how much (None: nothing to measure).

    `key` names its adjuster; `expect` are the readings afterwards, with one standard deviation.
    """

    key: str
    adjustment: Adjustment
    title: str
    why: str
    screw: str | None
    cautions: tuple[str, ...]
    expect: tuple[ReadAfter, ...]
    amount: float | None
    unit: str

    @property
    def text(self) -> str:
        """Return the adjustment as JSON."""
        return self.adjustment.model_dump_json(exclude_unset=True)


@dataclass(frozen=True)
class Figure:
    """One figure that is wanted: what it is, as it reads now and after the plan, and what is to be done about it.

    `status`: `leave` inside its tolerance, `stop` closer than a gauge or an ear can tell, `adjust`, `beyond` a
    set-up, `unread` where no reading tells enough.
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


@dataclass(frozen=True)
class PlanSheet:
    """The plan as a page shows it; `check` are the places to read after the last of the work.

    `undecided`: too little has been read to say that the instrument can be left as it is.
    """

    verdict: str
    steps: tuple[StepTold, ...]
    figures: tuple[Figure, ...]
    notes: tuple[str, ...]
    left_out: tuple[StepTold, ...]
    done: tuple[StepTold, ...]
    check: tuple[Place, ...]
    again: tuple[Place, ...]
    undecided: bool

    def status(self, name: str) -> tuple[Figure, ...]:
        """Return the figures of one status."""
        return tuple(one for one in self.figures if one.status == name)


def plan_sheet(solved: Solved) -> PlanSheet:
    """Return the plan of a solved visit as a page shows it.

    Raises:
        ReadAgainError: readings that no instrument fits.
    """
    service, plan = solved.service, solved.plan
    instrument = service.instrument_now()
    return PlanSheet(
        verdict=plan.verdict,
        steps=tuple(_step(one, instrument) for one in _still_to_do(solved)),
        figures=_figures(solved),
        notes=plan.notes,
        left_out=tuple(made(one, instrument) for one in solved.without),
        done=tuple(made(one, instrument) for one in service.work),
        check=tuple(_checks(solved)),
        again=_again(solved),
        undecided=bool(undecided(plan)),
    )


def step_key(adjustment: Adjustment) -> str:
    """Return the adjuster's name for a form: `rod`, `saddle-height_6`, `saddle-height_bass`."""
    places = [getattr(adjustment, name, None) for name in ("string", "post")]
    return "_".join([adjustment.adjust, *(str(one) for one in places if one is not None)])


def made(adjustment: Adjustment, instrument: Instrument) -> StepTold:
    """Return an adjustment in words, without reason or expectation."""
    kind = adjustment_kind(adjustment)
    amount, unit = amount_of(adjustment)
    title = kind.told(adjustment, instrument)
    screw = kind.screw(adjustment, instrument)
    return StepTold(step_key(adjustment), adjustment, title, "", screw, (), (), amount, unit)


def amount_of(adjustment: Adjustment) -> tuple[float | None, str]:
    """Return how much an adjustment moves and its unit; None where there is nothing to measure."""
    for unit in AMOUNTS:
        if unit in type(adjustment).model_fields:
            return float(getattr(adjustment, unit)), unit
    return None, ""


def _step(step: Step, instrument: Instrument) -> StepTold:
    told = made(step.adjustment, instrument)
    expect = tuple(ReadAfter(reading_kind(one).place(one), one) for one in step.expect)
    why = step.reason.removeprefix(told.title).removeprefix(":").strip()
    return StepTold(
        told.key, step.adjustment, told.title, why[:1].upper() + why[1:], step.screw, step.caution, expect,
        told.amount, told.unit,
    )  # fmt: skip


def _still_to_do(solved: Solved) -> list[Step]:
    """Return the plan's steps, without the tuning that was done already and that nothing has undone since."""
    tune = adjustment_kinds()["tune"]
    since: list[Adjustment] = []
    tuned = False
    for one in solved.service.work:
        tuned, since = (True, []) if one.adjust == tune.name else (tuned, [*since, one])
    in_tune = tuned and all(adjustment_kind(one).order > tune.order for one in since)
    steps = list(solved.plan.steps)
    while in_tune and steps and steps[0].adjustment.adjust == tune.name:
        steps.pop(0)
    return steps


def _checks(solved: Solved) -> Sequence[Place]:
    """Return where to read whether the last adjustment did what was expected, each place once."""
    service, sight = solved.service, solved.sight
    if not service.work:
        return ()
    last = service.work[-1]
    kind = adjustment_kind(last)
    wanted = [i for i, target in enumerate(sight.targets) if kind.verified_by(last, target)]
    told = [i for i in wanted if sight.judged[i]] or wanted
    return tuple(dict.fromkeys(place_of(sight.reading(i)) for i in told))


def _again(solved: Solved) -> tuple[Place, ...]:
    """Return where the plan wants a second reading; what was read twice in this visit is not asked for a third time."""
    times = Counter(place_of(one) for one in solved.service.readings)
    asked = dict.fromkeys(place_of(one) for one in solved.plan.read_again)
    return tuple(one for one in asked if times[one] < TWICE)


def _figures(solved: Solved) -> tuple[Figure, ...]:
    sight, instrument = solved.sight, solved.service.instrument_now()
    moved = {place_of(reading) for step in solved.plan.steps for reading in step.expect}
    found = []
    for index, target in enumerate(sight.targets):
        kind = target_kind(target)
        (now, now_spread), (then, then_spread) = (
            _value(state.readings[index]) for state in (solved.plan.now, solved.plan.then)
        )
        status = _status(target, float(sight.off[index]), bool(sight.judged[index]), then)
        if status in (LEAVE, STOP) and place_of(sight.reading(index)) in moved:
            status = ADJUST  # near its edge, and a step is there for it: not to be told as left alone
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
            )
        )
    return tuple(found)


def _value(reading: Reading) -> tuple[float, float]:
    unit = reading_kind(reading).unit
    return float(getattr(reading, unit)), float(getattr(reading, f"uncertainty_{unit}"))


def _status(target: Target, off: float, judged: bool, then: float) -> str:
    """Return what is to be done about a figure."""
    kind = target_kind(target)
    edge = kind.tolerance(target) * (1.0 + OUTSIDE_SHARE)
    resolved = reading_kind(kind.as_reading(target, 0.0, 1.0)).gauge_spread
    if not judged:
        return UNREAD
    if abs(off) <= min(resolved, kind.tolerance(target)):
        return STOP
    if abs(off) <= kind.tolerance(target):
        return LEAVE
    return ADJUST if np.abs(then - kind.wanted(target)) <= edge else BEYOND
