"""State and targets to steps: the fewest adjustments, in an order that does not undo itself, right in one pass."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.plan import Plan, Solved, Step, Verdict
from breakangle.model.reading import Adjustment, Target
from breakangle.model.service import Service
from breakangle.planning import explain, remarks
from breakangle.planning.adjustments.tune import Tune
from breakangle.planning.ask import Again, read_again, read_next
from breakangle.planning.decide import Decision, buzzes, decide
from breakangle.planning.estimate import Estimate, adjusted
from breakangle.planning.house import targets_of
from breakangle.planning.kinds import Lever
from breakangle.planning.margins import begun
from breakangle.planning.registry import adjustment_kind
from breakangle.planning.sight import Sight, aimed, sight_of
from breakangle.planning.usable import same_adjuster

Array = NDArray[np.float64]
IN_TUNE_CENTS = 3.0  # a saddle's place depends that little on it; common practice, no source


def _in_order(moves: Sequence[tuple[Lever, float]], in_tune: bool) -> list[Adjustment]:
    """Return the adjustments in the order of work, with tuning before intonation, or at the end.

    What serves all strings comes before what serves one: the whole of a saddle is cut before it is shaped.

    Where all strings are in tune and nothing before intonation moves them, they are not tuned again.
    """
    tune = adjustment_kind(Tune())
    ranked = sorted(moves, key=lambda move: (move[0].order, _from_bass(move[0])))
    before = [one for lever, amount in ranked if lever.order < tune.order for one in lever.made(amount)]
    after = [one for lever, amount in ranked if lever.order > tune.order for one in lever.made(amount)]
    return [*before, *([] if in_tune and not before else [Tune()]), *after] if ranked else []


def _in_tune(now: Estimate) -> bool:
    """Return whether every string is known to be at its pitch, as near as intonation asks."""
    pitch = now.picture.layout["pitch"]
    spread = np.sqrt(np.diag(now.belief.covariance)[pitch])
    return bool(np.all((np.abs(now.belief.mean[pitch]) < IN_TUNE_CENTS) & (spread < IN_TUNE_CENTS)))


def _from_bass(lever: Lever) -> float:
    string = getattr(lever.made(lever.typical)[0], "string", None)
    return -np.inf if string is None else -float(string)


@dataclass(frozen=True)
class _Course:
    """The steps, state and targets after them, and how far off each target is when its own adjuster's turn comes."""

    steps: tuple[Step, ...]
    end: Estimate
    seen: Sight
    off_in_turn: Array


def _course(now: Estimate, sight: Sight, decision: Decision, without: Sequence[Adjustment]) -> _Course:
    """Return the steps with what each should read afterwards."""
    steps, in_turn = [], sight.off
    before = sight
    for adjustment in _in_order(decision.moves, _in_tune(now)):
        if any(same_adjuster(adjustment, one) for one in without):
            continue
        kind = adjustment_kind(adjustment)
        instrument = now.board.instrument
        now = adjusted(now, adjustment)
        seen = sight_of(now, sight.targets)
        shown = explain.shown_by(adjustment, before, seen)
        steps.append(
            Step(
                adjustment=adjustment,
                reason=explain.reason(adjustment, before, seen, instrument, decision.lent_to),
                caution=kind.cautions(adjustment, instrument),
                screw=kind.screw(adjustment, instrument),
                expect=tuple(seen.reading(i) for i in shown),
            )
        )
        in_turn = np.where(kind.order < decision.turn, seen.off, in_turn)
        before = seen
    return _Course(tuple(steps), now, before, in_turn)


def _solved(estimate: Estimate, sight: Sight) -> Solved:
    readings = tuple(sight.reading(index) for index in range(len(sight.targets)))
    return Solved(readings=readings, responses=explain.responses(estimate))


@dataclass(frozen=True)
class Planned:
    """A plan, and all that is worth reading again before its next step: the plan asks for the first few of that."""

    plan: Plan
    again: Again


def plan(service: Service, now: Estimate, without: Sequence[Adjustment] = ()) -> Plan:
    """Return the plan for `service`, whose solved state is `now`; the adjusters in `without` are left alone.

    Solve it again after each step done and each reading taken: put the step into the service's `work`, the
    reading into its `readings` with `after`, and estimate anew.
    """
    return planned(service, now, without).plan


def planned(service: Service, now: Estimate, without: Sequence[Adjustment] = ()) -> Planned:
    """Return the plan, as `plan` does, with all that is worth reading again."""
    targets = targets_of(service, now.board)
    sight = sight_of(now, targets.wanted)
    decision = decide(service, now, aimed(now, targets.wanted), without)
    course = _course(now, sight, decision, without)
    steps, then = course.steps, course.end
    strength = targets.no_buzz_at
    buzzing = buzzes(then, strength) if strength else ()
    beyond = decision.unreached or buzzing or (not steps and remarks.amiss(service, now))
    verdict: Verdict = "beyond-setup" if beyond else "adjust" if steps else "leave"
    leave = not steps and not begun(service)
    again = read_again(service, now, sight, course.off_in_turn, came_good=leave, waiting=decision.waiting)
    more = read_next(service, now, sight)
    made = Plan(
        verdict=verdict,
        steps=steps,
        now=_solved(now, sight),
        then=_solved(then, course.seen),
        targets=targets,
        notes=tuple(one.sentence(str(strength)) for one in buzzing)
        + remarks.notes(service, now, (sight, course.seen), decision, steps, (again, more)),
        read_again=again.shown(service.readings),
        read_next=more,
    )
    return Planned(made, again)


def wanted(service: Service, now: Estimate) -> tuple[Target, ...]:
    """Return the targets that `plan` would work to."""
    return targets_of(service, now.board).wanted
