"""The page of a plan: each step in words, each figure now and then, and what is as plainly to be left alone."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Plan, Step
from breakangle.model.reading import Adjustment
from breakangle.model.words.message import Message
from breakangle.planning.explain.next_reading import TWICE
from breakangle.planning.kinds.registry import adjustment_kind, adjustment_kinds
from breakangle.planning.trips.part_way import part_way
from breakangle.planning.trips.told import (
    Asked,
    Found,
    ReadAfter,
    TripTold,
    asked_heading,
    asked_in_order,
    first_to_read,
    found_in_order,
    held_back,
    minutes_in_all,
    only_surer,
    read_after,
    trips_told,
)
from breakangle.services.frets.lead import frets_lead
from breakangle.services.making.registry import jobs_for
from breakangle.services.plans.figures import Figure, figures, paired
from breakangle.services.plans.solved_visits import Solved
from breakangle.services.service_files.compare import undecided
from breakangle.services.visits.reading_places import Place, place_of

AMOUNTS = ("turns", "mm", "degrees")


@dataclass(frozen=True)
class StepTold:
    """One step: `title` says what to do, `why` the reason, `amount` and `unit` how much (None: nothing to measure).

    `key` names its adjuster; `expect` are the readings afterwards, with one standard deviation; `part_way` says
    where a cut is stopped and read before it is finished.
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
    part_way: str = ""

    @property
    def text(self) -> str:
        """Return the adjustment as JSON."""
        return self.adjustment.model_dump_json(exclude_unset=True)


@dataclass(frozen=True)
class TripSheet:
    """One trip as a page shows it: in words, and its steps with their numbers among all that are still to do."""

    told: TripTold
    steps: tuple[tuple[int, StepTold], ...]

    @property
    def cautions(self) -> tuple[str, ...]:
        """Return what to take care of in the whole trip, each once."""
        return tuple(dict.fromkeys(each for _, one in self.steps for each in one.cautions))


@dataclass(frozen=True)
class PlanSheet:
    """The plan as a page shows it; `check` are the places to read after the last of the work.

    `first` is the sentence that names what to read before anything is done, `held` what waits for it; `asked_at` are
    the places that the questions ask to read. `undecided`: too little has been read to say that the instrument can be
    left as it is.
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
    trips: tuple[TripSheet, ...]
    minutes: int
    first: str
    held: str
    questions: tuple[Asked, ...]
    asked_heading: str
    only_surer: bool
    findings: tuple[Found, ...]
    asked_at: tuple[Place, ...]
    frets: tuple[Message, ...] = ()
    makes: tuple[tuple[str, str], ...] = ()

    def status(self, name: str) -> tuple[Figure, ...]:
        """Return the figures of one status."""
        return tuple(one for one in self.figures if one.status == name)

    @property
    def figure_rows(self) -> tuple[tuple[Figure, ...], ...]:
        """Return the figures as rows of a table, the strings of a course in one."""
        return paired(self.figures)


def plan_sheet(solved: Solved) -> PlanSheet:
    """Return the plan of a solved visit as a page shows it.

    Raises:
        ReadAgainError: readings that no instrument fits.
    """
    service, plan = solved.service, solved.plan
    instrument = service.instrument_now()
    todo = _still_to_do(solved)
    steps = tuple(_step(one, plan, instrument) for one in todo)
    check, again, asked_at = tuple(_checks(solved)), _again(solved), _asked_at(plan)
    return PlanSheet(
        verdict=plan.verdict,
        steps=steps,
        figures=figures(solved, {*check, *again, *asked_at}),
        notes=plan.notes,
        left_out=tuple(made(one, instrument) for one in solved.without),
        done=tuple(made(one, instrument) for one in service.work),
        check=check,
        again=again,
        undecided=bool(undecided(plan)),
        trips=_trips(plan, todo, steps),
        minutes=minutes_in_all(plan),
        first=first_to_read(plan),
        held=held_back(plan),
        questions=asked_in_order(plan),
        asked_heading=asked_heading(plan),
        only_surer=only_surer(plan),
        findings=found_in_order(plan),
        asked_at=asked_at,
        frets=frets_lead(service, plan, solved.estimate),
        makes=tuple((one.name, str(one.words)) for one in jobs_for(plan.findings, instrument)),
    )


def places_asked(solved: Solved) -> tuple[Place, ...]:
    """Return every place that the plan asks to be read, or to be read once more, before it goes on.

    Raises:
        ReadAgainError: readings that no instrument fits.
    """
    return tuple(dict.fromkeys((*_asked_at(solved.plan), *_again(solved))))


def _asked_at(plan: Plan) -> tuple[Place, ...]:
    return tuple(dict.fromkeys(place_of(one) for each in plan.questions for one in each.readings))


def _trips(plan: Plan, todo: Sequence[Step], steps: Sequence[StepTold]) -> tuple[TripSheet, ...]:
    """Return the trips that have something still to do."""
    numbered = [
        (number, one.trip, told) for number, (one, told) in enumerate(zip(todo, steps, strict=True), 1)
    ]
    found = (
        TripSheet(trip, tuple((number, told) for number, of, told in numbered if of == trip.number))
        for trip in trips_told(plan)
    )
    return tuple(one for one in found if one.steps)


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


def _step(step: Step, plan: Plan, instrument: Instrument) -> StepTold:
    told = made(step.adjustment, instrument)
    expect = read_after(step.expect)
    return StepTold(
        told.key, step.adjustment, told.title, step.why, step.screw, step.caution, expect,
        told.amount, told.unit, part_way(step, plan, instrument),
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
    """Return where to read whether the last adjustment did what was expected, each place once.

    Where nothing is left to do, all that was worked on is read as it leaves: the owner's sheet tells it so.
    """
    service, sight = solved.service, solved.sight
    if not service.work:
        return ()
    first = len(service.work) - 1 if _still_to_do(solved) else 0
    read = {place_of(one): one.after for one in service.readings}  # when each was read last
    wanted = []
    for index, target in enumerate(sight.targets):
        last = [n for n, one in enumerate(service.work) if adjustment_kind(one).verified_by(one, target)]
        if last and last[-1] >= first and read.get(place_of(sight.reading(index)), 0) <= last[-1]:
            wanted.append(index)
    told = [i for i in wanted if sight.judged[i]] or wanted
    return tuple(dict.fromkeys(place_of(sight.reading(i)) for i in told))


def _again(solved: Solved) -> tuple[Place, ...]:
    """Return where the plan wants a second reading; what was read twice in this visit is not asked for a third time."""
    times = Counter(place_of(one) for one in solved.service.readings)
    asked = dict.fromkeys(place_of(one) for one in solved.plan.read_again)
    return tuple(one for one in asked if times[one] < TWICE)
