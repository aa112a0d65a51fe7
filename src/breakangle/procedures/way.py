"""A person's way through a procedure: a frozen state, and functions from one state to the next.

Nothing here has a clock or a store: the moment is an argument (`at`, with its time zone), the state goes to JSON
and back (`Way.model_dump_json`, `Way.model_validate_json`). Order is enforced gently: `next_step` does nothing
while something speaks against the step, says what and why, and does it when asked again with `anyway=True`.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from pydantic import Field

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.noun import Noun
from breakangle.model.words.speech import tr
from breakangle.procedures.model import Procedure, Step, Timer, minutes_of
from breakangle.procedures.timed import timer_sentence
from breakangle.reference.routine import orders

WAY_FORMAT: Final = "breakangle/run/1"
Standing = Literal["done", "left out"]
TimerState = Literal["not started", "standing", "ready", "too long"]


class Mark(Noun):
    """What became of a step: done or left out, when; `against`: the reasons it was done against."""

    state: Standing
    at: datetime
    why: str = ""
    against: tuple[str, ...] = ()


class Way(Noun):
    """Where a person is in a procedure: `place` is the step at hand, None at the end.

    `undone` are the marks taken back since the last one was made, the latest last: they can be made again.
    """

    format: Literal["breakangle/run/1"] = WAY_FORMAT
    procedure: str
    facts: dict[str, str] = Field(default_factory=dict)
    place: str | None
    marks: dict[str, Mark] = Field(default_factory=dict)
    timers: dict[str, datetime] = Field(default_factory=dict)
    undone: tuple[dict[str, Mark], ...] = ()
    begun_at: datetime


@dataclass(frozen=True)
class Against:
    """Something that speaks against doing a step now: the reason, and the step to do first, if there is one."""

    reason: str
    first: str | None


@dataclass(frozen=True)
class TimerSeen:
    """A step's timer at one moment: how long it has stood, how long it must still stand (0: ready), in s."""

    timer: Timer
    state: TimerState
    stood_s: float
    left_s: float


@dataclass(frozen=True)
class Seen:
    """A way at one moment: the step at hand (None: finished), its number among `count`, and what to know.

    `unsure`: facts the step depends on that nobody has told. `minutes_left` counts the steps still open.
    """

    step: Step | None
    number: int
    count: int
    against: tuple[Against, ...]
    timer: TimerSeen | None
    unsure: tuple[str, ...]
    done: tuple[str, ...]
    left_out: tuple[str, ...]
    minutes_left: float


@dataclass(frozen=True)
class Moved:
    """The way after a move; where `against` is not empty nothing was moved: ask, then move with `anyway`."""

    way: Way
    against: tuple[Against, ...] = ()


def begin(procedure: Procedure, facts: dict[str, str], at: datetime) -> Way:
    """Return a way at the procedure's first step for an instrument of these facts.

    Raises:
        CorrectInputError: no step of it is for such an instrument.
    """
    steps = procedure.steps_for(facts)
    if not steps:
        raise CorrectInputError(
            tr('no step of "{title}" is for this instrument', title=procedure.title),
            "",
            tr("choose another procedure"),
        )
    return Way(procedure=procedure.name, facts=facts, place=steps[0].id, begun_at=at)


def acts_done(procedure: Procedure, way: Way) -> frozenset[str]:
    """Return what the steps done so far do, for what must come before what in later procedures."""
    done = [one for one in procedure.steps if one.id in way.marks and way.marks[one.id].state == "done"]
    return frozenset(act for one in done for act in one.acts)


def acts_declined(procedure: Procedure, way: Way) -> frozenset[str]:
    """Return what only steps that were left out would have done."""
    left = [one for one in procedure.steps if one.id in way.marks and way.marks[one.id].state == "left out"]
    return frozenset(act for one in left for act in one.acts) - acts_done(procedure, way)


def seen(procedure: Procedure, way: Way, at: datetime, acts_before: frozenset[str] = frozenset()) -> Seen:
    """Return the way as it stands at the moment `at`.

    Args:
        procedure: the procedure the way goes through; a step it no longer has is passed over.
        way: the state.
        at: now.
        acts_before: what earlier procedures of the visit did (`acts_done`) or left out (`acts_declined`).
    """
    steps = procedure.steps_for(way.facts)
    ids = [one.id for one in steps]
    step = steps[ids.index(way.place)] if way.place in ids else None
    still = [one for one in steps if one.id not in way.marks]
    by_state = {
        state: tuple(one.id for one in steps if one.id in way.marks and way.marks[one.id].state == state)
        for state in ("done", "left out")
    }
    return Seen(
        step=step,
        number=ids.index(step.id) + 1 if step is not None else len(ids),
        count=len(ids),
        against=() if step is None else tuple(_against(procedure, way, step, acts_before)),
        timer=None
        if step is None or step.timer is None
        else timer_seen(step.timer, way.timers.get(step.id), at),
        unsure=() if step is None else tuple(name for name in step.when if name not in way.facts),
        done=by_state["done"],
        left_out=by_state["left out"],
        minutes_left=minutes_of(still, way.facts),
    )


def timer_seen(timer: Timer, started_at: datetime | None, at: datetime) -> TimerSeen:
    """Return how a timer that was started then stands at the moment `at`; never started: None."""
    if started_at is None:
        return TimerSeen(timer, "not started", 0.0, float(timer.least_s))
    stood = max((at - started_at).total_seconds(), 0.0)
    state: TimerState = "ready" if stood >= timer.least_s else "standing"
    if stood > timer.most_s:
        state = "too long"
    return TimerSeen(timer, state, stood, max(timer.least_s - stood, 0.0))


def start_timer(procedure: Procedure, way: Way, at: datetime) -> Way:
    """Return the way with the timer of the step at hand started at `at`, from nothing if it ran already.

    Raises:
        CorrectInputError: the step has no timer, or there is no step at hand.
    """
    step = _at_hand(procedure, way)
    if step.timer is None:
        raise CorrectInputError(tr('nothing has to stand in "{do}"', do=step.do), "", tr("go on"))
    return way.model_copy(update={"timers": {**way.timers, step.id: at}})


def next_step(
    procedure: Procedure,
    way: Way,
    at: datetime,
    anyway: bool = False,
    acts_before: frozenset[str] = frozenset(),
) -> Moved:
    """Mark the step at hand done and go on to the next open one; what speaks against it is said first.

    Raises:
        CorrectInputError: the procedure is finished.
    """
    step = _at_hand(procedure, way)
    found = [*_against(procedure, way, step, acts_before), *_timer_against(step, way, at)]
    if found and not anyway:
        return Moved(way, tuple(found))
    mark = Mark(state="done", at=at, against=tuple(one.reason for one in found))
    return Moved(_on(procedure, way, step, mark))


def leave_out(procedure: Procedure, way: Way, at: datetime, why: str = "") -> Way:
    """Mark the step at hand left out and go on; a later step that leans on it says so where that can do harm.

    Raises:
        CorrectInputError: the procedure is finished.
    """
    step = _at_hand(procedure, way)
    return _on(procedure, way, step, Mark(state="left out", at=at, why=why))


def without(procedure: Procedure, way: Way, left: Mapping[str, Mark]) -> Way:
    """Return a way just begun with what was left out before left out again; all of it left out: as it is."""
    ids = [one.id for one in procedure.steps_for(way.facts)]
    here = next((name for name in ids if name not in left), None)
    return way if here is None else way.model_copy(update={"marks": {**left, **way.marks}, "place": here})


def back(procedure: Procedure, way: Way) -> Way:
    """Return the way one step earlier, that step open again; at the first step nothing changes."""
    ids = [one.id for one in procedure.steps_for(way.facts)]
    index = ids.index(way.place) if way.place in ids else len(ids)
    return go_to(procedure, way, ids[max(index - 1, 0)])


def go_to(procedure: Procedure, way: Way, step_id: str) -> Way:
    """Return the way at a step of its own choosing, that step open again.

    Raises:
        CorrectInputError: no such step for this instrument.
    """
    ids = [one.id for one in procedure.steps_for(way.facts)]
    if step_id not in ids:
        raise CorrectInputError(
            tr("step {step_id!r}", step_id=step_id), tr("one of {ids}", ids=", ".join(ids)), tr("choose one")
        )
    marks = {name: mark for name, mark in way.marks.items() if name != step_id}
    timers = {name: moment for name, moment in way.timers.items() if name != step_id}
    return way.model_copy(update={"place": step_id, "marks": marks, "timers": timers})


def with_facts(procedure: Procedure, way: Way, told: dict[str, str]) -> Way:
    """Return the way with more facts told; if its step is for other instruments, it goes on to the next.

    Raises:
        CorrectInputError: no step of it is for such an instrument.
    """
    facts = {**way.facts, **told}
    begin(procedure, facts, way.begun_at)
    kept = way.model_copy(update={"facts": facts})
    ids = [one.id for one in procedure.steps_for(facts)]
    if way.place is None or way.place in ids:
        return kept
    every = [one.id for one in procedure.steps]
    later = every[every.index(way.place) :] if way.place in every else every
    here = next((name for name in later if name in ids and name not in way.marks), None)
    return kept.model_copy(update={"place": here})


def _at_hand(procedure: Procedure, way: Way) -> Step:
    for one in procedure.steps_for(way.facts):
        if one.id == way.place:
            return one
    finished = tr('"{title}" is finished', title=procedure.title)
    raise CorrectInputError(finished, "", tr("go back, or begin it again"))


def _on(procedure: Procedure, way: Way, step: Step, mark: Mark) -> Way:
    """Return the way with `step` marked, at the next open step after it, else at the first open one."""
    marks = {**way.marks, step.id: mark}
    ids = [one.id for one in procedure.steps_for(way.facts)]
    later = ids[ids.index(step.id) + 1 :]
    here = next((name for name in (*later, *ids) if name not in marks), None)
    return way.model_copy(update={"marks": marks, "place": here, "undone": ()})


def _against(procedure: Procedure, way: Way, step: Step, acts_before: frozenset[str]) -> Iterator[Against]:
    """Yield what should have been done first, and what must not have been done yet."""
    others = [one for one in procedure.steps_for(way.facts) if one.id != step.id]
    done = acts_before | frozenset(act for one in _done(others, way) for act in one.acts)
    declined = acts_declined(procedure, way)
    for order in orders():
        if order.first in declined and not order.always:
            continue
        if order.then in step.acts and order.first not in done and order.first not in step.acts:
            first = [one for one in others if order.first in one.acts]
            if first or order.alone:
                yield Against(order.reason, first[0].id if first else None)
        elif order.late and order.first in step.acts and order.then in done:
            yield Against(order.reason, None)


def _done(steps: Sequence[Step], way: Way) -> list[Step]:
    return [one for one in steps if one.id in way.marks and way.marks[one.id].state == "done"]


def _timer_against(step: Step, way: Way, at: datetime) -> Iterator[Against]:
    if step.timer is not None:
        found = timer_seen(step.timer, way.timers.get(step.id), at)
        told = timer_sentence(step.timer, found.state, found.left_s, found.stood_s)
        if told:
            yield Against(told, None if found.state == "too long" else step.id)
