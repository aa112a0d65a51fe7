"""How far each adjuster is moved: the fewest that do it, then settled by the full model where they lead."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.planning.adjustments.tune import Tune
from breakangle.planning.estimate import Estimate
from breakangle.planning.kinds import Lever
from breakangle.planning.layout import Belief
from breakangle.planning.registry import adjustment_kind
from breakangle.planning.sight import Sight, aimed
from breakangle.planning.solver import Problem, choose, settle
from breakangle.planning.unreached import OUTSIDE_SHARE, unreached
from breakangle.planning.usable import same_adjuster
from breakangle.planning.waiting import Moves

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
RETOUCH_COST = 0.15  # an adjuster already turned in this service costs little to turn again


def worthwhile_moves(service: Service, now: Estimate, sight: Sight, problem: Problem) -> Moves:
    """Return the levers worth moving, with their amounts by the full model."""
    amounts = _chosen(service, now, sight, problem)
    final = moved_off(now, sight, problem, amounts)
    if any(not one.at_end and one.in_the_way is None for one in unreached(problem, amounts, final, sight)):
        amounts = _once_more(service, now, sight, problem, amounts)
        final = moved_off(now, sight, problem, amounts)
    small = np.abs(amounts) < [_least(lever, now) for lever in problem.levers]
    if amounts[small].any():
        amounts = np.where(small, 0.0, amounts)
        final = moved_off(now, sight, problem, amounts)
    part, amounts = problem.only(np.flatnonzero(~small)), amounts[~small]
    helps = np.flatnonzero(_helping(part, amounts, final, sight.inside[sight.judged]))
    return tuple(zip(part.only(helps).levers, amounts[helps].tolist(), strict=True))


def _chosen(service: Service, now: Estimate, sight: Sight, problem: Problem) -> Array:
    """Return the amounts of the fewest adjusters, zero for all others, settled by the full model, (J,)."""
    touched = _touched(service, problem.levers)
    costs = np.array([RETOUCH_COST if one.name in touched else one.cost for one in problem.levers])
    chosen = _in_stages(problem, _cut_by_hand(now), lambda part, which: choose(part, costs[which]).amounts)
    used = np.flatnonzero(np.abs(chosen) > 1e-6)
    amounts = np.zeros(len(problem.levers))
    if len(used):
        amounts[used] = _settled(now, sight, problem.only(used), chosen[used])
    return amounts


def _once_more(service: Service, now: Estimate, sight: Sight, problem: Problem, amounts: Array) -> Array:
    """Return the amounts with all but the rod chosen once more, linear around where `amounts` lead, (J,).

    The rod is settled for relief, well inside, after the fewest others were chosen to go with it, and heights bend what
    they do to intonation: either may ask for one more adjuster.
    """
    rod = np.array([lever.doubtful for lever in problem.levers], dtype=bool)
    rest, turned = np.flatnonzero(~rod), np.where(rod, amounts, 0.0)
    if not len(rest):
        return amounts
    bent = moved_off(now, sight, problem, amounts) - problem.per_unit[:, rest] @ amounts[rest]
    there = replace(problem.only(rest), off=bent)
    turned[rest] = _chosen(service, _after(now, problem, turned), sight, there)
    return turned


def _touched(service: Service, levers: Sequence[Lever]) -> set[str]:
    """Return the names of the levers that this service has already moved."""
    found = set()
    for lever in levers:
        trial = lever.made(lever.step or lever.typical)
        for done in service.work:
            if trial and same_adjuster(trial[0], done):
                found.add(lever.name)
    return found


def _after(now: Estimate, problem: Problem, amounts: Array) -> Estimate:
    """Return the state after `amounts` of the levers, by the full model, as well known as it is now."""
    mean = now.belief.mean + sum(
        amount * lever.direction for amount, lever in zip(amounts, problem.levers, strict=True)
    )
    return replace(now, belief=Belief(mean, now.belief.covariance))


def moved_off(now: Estimate, sight: Sight, problem: Problem, amounts: Array) -> Array:
    """Return how far off the judged targets would be after `amounts`, by the full model."""
    return aimed(_after(now, problem, amounts), sight.targets).off[sight.judged]


def _cut_by_hand(now: Estimate) -> bool:
    return now.board.instrument.bridge.kind == "one-piece"


def _in_stages(problem: Problem, by_hand: bool, solve: Callable[[Problem, Indices], Array]) -> Array:
    """Return the amounts that `solve` finds: at once; or, of a saddle cut by hand, heights first and then its crowns.

    A screw is turned back; wood is not: a height is not cut otherwise than heights ask for so that a string is more
    in tune.
    """
    crowns = np.array([lever.order > adjustment_kind(Tune()).order for lever in problem.levers], dtype=bool)
    pitches = ~np.asarray(problem.edges.own[:, ~crowns].any(axis=1))
    if not by_hand or not pitches.any() or pitches.all():
        return solve(problem, np.arange(len(problem.levers)))
    amounts = np.zeros(len(problem.levers))
    for levers, targets in ((~crowns, ~pitches), (crowns, pitches)):
        which = np.flatnonzero(levers)
        if not len(which):
            continue
        so_far = replace(problem, off=problem.off + problem.per_unit @ amounts)
        amounts[which] = solve(so_far.only(which).of(targets), which)
    return amounts


def _settled(now: Estimate, sight: Sight, part: Problem, chosen: Array) -> Array:
    """Return the amounts of the levers chosen by the full, bent model, (J,)."""
    bent = replace(part, off=moved_off(now, sight, part, chosen) - part.per_unit @ chosen)
    amounts = _in_stages(bent, _cut_by_hand(now), lambda one, which: settle(one).amounts)
    # Well inside may want the rod where it is, and another target out: then it is turned as far as was chosen.
    lost = np.array([one.doubtful for one in part.levers]) & (np.abs(amounts) < 1e-6)
    if not lost.any():
        return amounts
    out = np.abs(moved_off(now, sight, part, amounts)) > (1.0 + OUTSIDE_SHARE) * part.tolerance
    if out.any():
        kept = np.flatnonzero(~lost)
        rest = replace(bent.only(kept), off=bent.off + bent.per_unit[:, lost] @ chosen[lost])
        amounts = chosen.copy()
        amounts[kept] = _in_stages(rest, _cut_by_hand(now), lambda one, which: settle(one).amounts)
    return amounts


def _helping(part: Problem, amounts: Array, final: Array, inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which moves help: not those without which everything they serve stays inside its edge all the same.

    Worked out again by the full model, an adjuster may no longer be needed that the linear choice needed.
    """
    helps, left = np.ones(len(amounts), dtype=bool), final.copy()
    reach = np.abs(part.per_unit * amounts) / part.tolerance[:, None]
    for index in np.argsort(reach.max(axis=0, initial=0.0)):
        own = part.edges.own[:, index]
        without = left - part.per_unit[:, index] * amounts[index]
        slack = np.where(own, 0.0, OUTSIDE_SHARE) * part.tolerance
        no_worse = np.abs(without) <= np.maximum(part.edges.left, np.abs(left) + slack)
        if not part.levers[index].doubtful and inside[own].all() and no_worse.all():
            helps[index], left = False, without
    return helps


def _least(lever: Lever, now: Estimate) -> float:
    """Return the smallest amount worth a move: half of the finest that the hand can set."""
    first = lever.made(lever.typical)[0]
    return 0.5 * adjustment_kind(first).finest(now.board.instrument)
