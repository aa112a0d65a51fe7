"""State and targets to steps: the fewest adjustments, in an order that does not undo itself, right in one pass."""

from collections.abc import Sequence

from breakangle.model.plan import Plan, Solved, Step
from breakangle.model.reading import Adjustment, Target
from breakangle.model.service import Service
from breakangle.planning import explain
from breakangle.planning.adjustments.tune import Tune
from breakangle.planning.ask import read_again, read_next
from breakangle.planning.decide import Decision, buzzes, decide
from breakangle.planning.estimate import Estimate, adjusted
from breakangle.planning.house import targets_of
from breakangle.planning.kinds import Lever
from breakangle.planning.registry import adjustment_kind
from breakangle.planning.sight import Sight, sight_of


def _in_order(moves: Sequence[tuple[Lever, float]]) -> list[Adjustment]:
    """Return the adjustments in the order of work, with tuning before intonation, or at the end."""
    tune = adjustment_kind(Tune())
    ranked = sorted(moves, key=lambda move: (move[0].order, _from_bass(move[0])))
    before = [one for lever, amount in ranked if lever.order < tune.order for one in lever.made(amount)]
    after = [one for lever, amount in ranked if lever.order > tune.order for one in lever.made(amount)]
    return [*before, Tune(), *after] if ranked else []


def _from_bass(lever: Lever) -> int:
    made = lever.made(lever.typical)[0]
    return -int(getattr(made, "string", None) or 0)


def _steps(now: Estimate, sight: Sight, decision: Decision) -> tuple[tuple[Step, ...], Estimate]:
    """Return the steps with what each should read afterwards, and the state after them all."""
    steps = []
    instrument, before = now.board.instrument, sight
    for adjustment in _in_order(decision.moves):
        kind = adjustment_kind(adjustment)
        now = adjusted(now, adjustment)
        seen = sight_of(now, sight.targets)
        shown = explain.shown_by(adjustment, before, seen)
        steps.append(
            Step(
                adjustment=adjustment,
                reason=explain.reason(adjustment, before, seen, instrument),
                caution=kind.cautions(adjustment, instrument),
                screw=kind.screw(adjustment, instrument),
                expect=tuple(seen.reading(i) for i in shown),
            )
        )
        before = seen
    return tuple(steps), now


def _solved(estimate: Estimate, sight: Sight) -> Solved:
    readings = tuple(sight.reading(index) for index in range(len(sight.targets)))
    return Solved(readings=readings, responses=explain.responses(estimate))


def plan(service: Service, now: Estimate) -> Plan:
    """Return the plan for `service`, whose solved state is `now`.

    Solve it again after each step done and each reading taken: put the step into the service's `work`, the
    reading into its `readings` with `after`, and estimate anew.
    """
    targets = targets_of(service, now.board)
    sight = sight_of(now, targets.wanted)
    decision = decide(service, now, sight)
    steps, then = _steps(now, sight, decision)
    strength = targets.no_buzz_at
    left = buzzes(then, strength) if strength else ()
    verdict = "beyond-setup" if decision.unreached or left else "adjust" if steps else "leave"
    end = sight_of(then, targets.wanted)
    twice, more = read_again(service, now, sight), read_next(service, now, sight)
    return Plan(
        verdict=verdict,
        steps=steps,
        now=_solved(now, sight),
        then=_solved(then, end),
        targets=targets,
        notes=tuple(one.sentence(str(strength)) for one in left)
        + explain.notes(service, now, sight, end, decision.unreached, bool(steps), (twice, more)),
        read_again=twice,
        read_next=more,
    )


def wanted(service: Service, now: Estimate) -> tuple[Target, ...]:
    """Return the targets that `plan` would work to."""
    return targets_of(service, now.board).wanted
