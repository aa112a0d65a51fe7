"""How far each adjuster is moved: chosen linear around the present state, then again by the full model."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.target_state import Sight, aimed
from breakangle.planning.kinds.adjustments.saddle_position import shaped_by_hand
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.registry import adjustment_kind
from breakangle.planning.solve.deferred import Moves
from breakangle.planning.solve.lever_limits import same_adjuster
from breakangle.planning.solve.loose_bridge import slides_in
from breakangle.planning.solve.programme.problem import Problem
from breakangle.planning.solve.programme.solver import choose, settle
from breakangle.planning.solve.programme.stages import best_amounts
from breakangle.planning.solve.unreached import OUTSIDE_SHARE

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
# Chosen; no source; `python -m bench closed_loop` tells what it costs.
RETOUCH_COST = 0.15  # an adjuster already turned in this service costs little to turn again


def worthwhile_moves(
    service: Service, now: Estimate, sight: Sight, problem: Problem, hand: Array, lend: bool
) -> Moves:
    """Return the levers worth moving, with their amounts by the full model.

    `hand` (T,) is what a hand adds to the targets' spreads; `lend`: the rod may be turned for what else it moves.
    """
    if len(problem.floors.lack):
        amounts = _chosen(service, now, sight, problem)
    else:
        amounts = _bent(now, sight, problem, hand, lend)
    small = np.abs(amounts) < [_least(lever, now) for lever in problem.levers]
    kept = np.flatnonzero(~small)
    return tuple(zip(problem.only(kept).levers, amounts[kept].tolist(), strict=True))


def _bent(now: Estimate, sight: Sight, problem: Problem, hand: Array, lend: bool) -> Array:
    """Return the amounts chosen, and then again linear around where that leads by the full, bent model, (J,)."""
    amounts = best_amounts(problem, hand, lend)
    if not amounts.any():
        return amounts
    off = moved_off(now, sight, problem, amounts) - problem.per_unit @ amounts
    return best_amounts(replace(problem, off=off), hand, lend)


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


def _touched(service: Service, levers: Sequence[Lever]) -> set[str]:
    """Return the names of the levers that this service has already moved."""
    found = set()
    for lever in levers:
        for done in service.work:
            if same_adjuster(lever.trial, done):
                found.add(lever.name)
    return found


def _after(now: Estimate, problem: Problem, amounts: Array) -> Estimate:
    """Return the state after `amounts` of the levers, by the full model, as well known as it is now."""
    mean = now.belief.mean + sum(
        amount * lever.direction for amount, lever in zip(amounts, problem.levers, strict=True)
    )
    return replace(now, belief=replace(now.belief, mean=mean))


def moved_off(now: Estimate, sight: Sight, problem: Problem, amounts: Array) -> Array:
    """Return how far off the judged targets would be after `amounts`, by the full model."""
    return aimed(_after(now, problem, amounts), sight.targets).off[sight.judged]


def _cut_by_hand(now: Estimate) -> bool:
    return shaped_by_hand(now.board.instrument)


def _in_stages(problem: Problem, by_hand: bool, solve: Callable[[Problem, Indices], Array]) -> Array:
    """Return the amounts that `solve` finds: at once; or, of a saddle cut by hand, heights first and its crowns last.

    A screw is turned back; wood is not: a height is not cut otherwise than heights ask for so that a string is more
    in tune. A loose bridge is slid for all strings together before one of them is seen to.
    """
    crowns = np.array([lever.order > adjustment_kind(Tune()).order for lever in problem.levers], dtype=bool)
    pitches = ~np.asarray(problem.edges.own[:, ~crowns].any(axis=1))
    slides = slides_in(problem.levers)
    if not by_hand or not pitches.any() or (pitches.all() and not slides.any()):
        return solve(problem, np.arange(len(problem.levers)))
    amounts = np.zeros(len(problem.levers))
    for levers, targets in ((~crowns, ~pitches), (slides, pitches), (crowns & ~slides, pitches)):
        which = np.flatnonzero(levers)
        if not len(which) or not targets.any():
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


def _least(lever: Lever, now: Estimate) -> float:
    """Return the smallest amount worth a move: half of the finest that the hand can set."""
    return max(lever.least, 0.5 * adjustment_kind(lever.trial).finest(now.board.instrument))
