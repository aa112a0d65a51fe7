"""State and targets to steps: the fewest adjustments, in an order that does not undo itself, right in one pass."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.model.plan import Plan, Solved, Step
from breakangle.model.reading import Adjustment, Target
from breakangle.model.service import Service
from breakangle.planning import explain
from breakangle.planning.ask import read_again, read_next
from breakangle.planning.estimate import Estimate, adjusted
from breakangle.planning.house import targets_of
from breakangle.planning.kinds import Lever
from breakangle.planning.layout import Belief
from breakangle.planning.registry import adjustment_kind, adjustment_kinds
from breakangle.planning.solver import Problem, choose, narrowed, settle
from breakangle.planning.sight import Sight, sight_of

Array = NDArray[np.float64]
RETOUCH_COST = 0.15  # an adjuster already turned in this service costs little to turn again
RELINEARISATIONS = 2
# On arrival only what reads outside is touched; what has been worked on is finished with this much margin.
ARRIVAL_SPREADS, DONE_SPREADS = 0.5, 1.8
OUTSIDE_SHARE = 0.15  # of a tolerance: what stays outside by less is the hand's, not beyond a set-up


@dataclass(frozen=True)
class Decision:
    """What the solver decided: levers with amounts, and the targets no lever can reach."""

    moves: tuple[tuple[Lever, float], ...]
    unreached: tuple[int, ...]


def _levers(now: Estimate) -> tuple[Lever, ...]:
    picture = now.picture
    return tuple(lever for kind in adjustment_kinds().values() for lever in kind.levers(picture))


def _touched(service: Service, levers: Sequence[Lever]) -> set[str]:
    """Return the names of the levers that this service has already moved."""
    found = set()
    for lever in levers:
        trial = lever.made(lever.step or lever.typical)
        for done in service.work:
            if trial and _same_place(trial[0], done):
                found.add(lever.name)
    return found


def _same_place(one: Adjustment, other: Adjustment) -> bool:
    places = ("adjust", "string", "post")
    return all(getattr(one, key, None) == getattr(other, key, None) for key in places)


def _problem(now: Estimate, sight: Sight, levers: tuple[Lever, ...]) -> Problem:
    """Return the judged targets and the levers in numbers, linear around the present state."""
    judged = sight.judged
    directions = np.stack([lever.direction for lever in levers], axis=1)
    return Problem(
        levers=levers,
        off=sight.off[judged],
        per_unit=sight.rows[judged] @ directions,
        tolerance=sight.tolerance[judged],
        spread=sight.spread[judged],
        doubt=_doubt(now, sight, levers)[judged],
    )


def _doubt(now: Estimate, sight: Sight, levers: tuple[Lever, ...]) -> Array:
    """Return the spread that a unit of each doubtful lever adds to each target, (T, J).

    Targets that are read after every move of that lever are left out: the next plan sees them.
    """
    found = np.zeros((len(sight.targets), len(levers)))
    for column, lever in enumerate(levers):
        if not lever.doubtful:
            continue
        move = lever.made(lever.typical)[0]
        moved = adjusted(now, move).belief.spread(sight.rows)
        added = np.sqrt(np.maximum(moved**2 - sight.spread**2, 0.0)) / lever.typical
        kind = adjustment_kind(move)
        unseen = np.array([not kind.verified_by(move, target) for target in sight.targets])
        found[:, column] = added * unseen
    return found


def _moved_off(now: Estimate, sight: Sight, problem: Problem, amounts: Array) -> Array:
    """Return how far off the judged targets would be after `amounts`, by the full model."""
    mean = now.belief.mean + sum(
        amount * lever.direction for amount, lever in zip(amounts, problem.levers, strict=True)
    )
    return sight_of(replace(now, belief=Belief(mean, now.belief.covariance)), sight.targets).off[sight.judged]


def decide(service: Service, now: Estimate, sight: Sight) -> Decision:
    """Return which adjusters to move, by how much."""
    levers = _levers(now)
    good = _good_already(service, sight)
    if good or not levers:
        outside = [] if good else np.flatnonzero(sight.judged & (np.abs(sight.off) > sight.tolerance))
        return Decision((), tuple(int(one) for one in outside))
    touched = _touched(service, levers)
    costs = np.array([RETOUCH_COST if lever.name in touched else lever.cost for lever in levers])
    problem = _problem(now, sight, levers)
    chosen = choose(problem, costs, DONE_SPREADS if _begun(service) else ARRIVAL_SPREADS)
    # A lever's least useful move: half of the finest the hand can set.
    used = [index for index, lever in enumerate(levers) if abs(chosen.amounts[index]) > 1e-6]
    amounts, part = chosen.amounts[used], problem
    for _ in range(RELINEARISATIONS):
        if not used:
            break
        part = replace(
            problem,
            levers=tuple(levers[index] for index in used),
            per_unit=problem.per_unit[:, used],
            doubt=problem.doubt[:, used],
        )
        true_off = _moved_off(now, sight, part, amounts)
        amounts = settle(replace(part, off=true_off - part.per_unit @ amounts)).amounts
    moves = [(levers[index], float(amount)) for index, amount in zip(used, amounts, strict=True)]
    moves = [(lever, amount) for lever, amount in moves if abs(amount) >= _least(lever, now)]
    final = _moved_off(now, sight, replace(problem, levers=tuple(lever for lever, _ in moves)),
                       np.array([amount for _, amount in moves]))  # fmt: skip
    left = np.abs(final) - sight.tolerance[sight.judged] > OUTSIDE_SHARE * sight.tolerance[sight.judged]
    unreached = np.flatnonzero(sight.judged)[left]
    return Decision(tuple(moves), tuple(int(one) for one in unreached))


def _good_already(service: Service, sight: Sight) -> bool:
    """Return whether all that can be judged is inside: as it reads on arrival, and with some margin after work.

    An instrument that reads well is left alone. One that has been adjusted is finished so that it would
    read well tomorrow too.
    """
    if not _begun(service):
        return sight.all_inside
    edge = narrowed(sight.tolerance, sight.spread, DONE_SPREADS)
    return bool(np.all((np.abs(sight.off) <= edge) | ~sight.judged))


def _begun(service: Service) -> bool:
    """Return whether anything a plan could ask for has been moved (tuning and new strings are not)."""
    return any(adjustment_kind(one).planned for one in service.work)


def _least(lever: Lever, now: Estimate) -> float:
    """Return the smallest amount worth a move: half of the finest that the hand can set."""
    first = lever.made(lever.typical)[0]
    return 0.5 * adjustment_kind(first).finest(now.board.instrument)


def _in_order(moves: Sequence[tuple[Lever, float]]) -> list[Adjustment]:
    """Return the adjustments in the order of work, with tuning before intonation, or at the end."""
    tune = adjustment_kinds()["tune"]
    ranked = sorted(moves, key=lambda move: (move[0].order, _from_bass(move[0])))
    before = [one for lever, amount in ranked if lever.order < tune.order for one in lever.made(amount)]
    after = [one for lever, amount in ranked if lever.order > tune.order for one in lever.made(amount)]
    return [*before, tune.model(), *after] if ranked else []


def _from_bass(lever: Lever) -> int:
    made = lever.made(lever.typical)[0]
    return -int(getattr(made, "string", None) or 0)


def _steps(
    service: Service, now: Estimate, sight: Sight, decision: Decision
) -> tuple[tuple[Step, ...], Estimate]:
    """Return the steps with what each should read afterwards, and the state after them all."""
    steps = []
    instrument = now.board.instrument
    for adjustment in _in_order(decision.moves):
        kind = adjustment_kind(adjustment)
        after = adjusted(now, adjustment)
        seen = sight_of(after, sight.targets)
        shown = [i for i, target in enumerate(sight.targets) if kind.verified_by(adjustment, target)]
        steps.append(
            Step(
                adjustment=adjustment,
                reason=explain.reason(adjustment, sight_of(now, sight.targets), seen, instrument),
                caution=kind.cautions(adjustment, instrument),
                screw=kind.screw(adjustment, instrument),
                expect=tuple(seen.reading(i) for i in shown),
            )
        )
        now = after
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
    steps, then = _steps(service, now, sight, decision)
    verdict = "beyond-setup" if decision.unreached else "adjust" if steps else "leave"
    end = sight_of(then, targets.wanted)
    return Plan(
        verdict=verdict,
        steps=steps,
        now=_solved(now, sight),
        then=_solved(then, end),
        targets=targets,
        notes=explain.notes(service, now, sight, end, decision.unreached, bool(steps)),
        read_again=read_again(service, now, sight),
        read_next=read_next(service, now, sight),
    )


def wanted(service: Service, now: Estimate) -> tuple[Target, ...]:
    """Return the targets that `plan` would work to."""
    return targets_of(service, now.board).wanted

