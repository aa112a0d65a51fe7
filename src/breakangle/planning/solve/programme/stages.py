"""Which adjusters, by how much: in the order of work, the moves that leave the fewest minutes to be expected.

Each stage (rod; heights; slots; places along the string) serves figures of its own, so each is decided by itself, with
what the other stages do counted in: a rod by its steps, adjusters that serve many strings by every choice among
them, an adjuster of one figure by itself. What is moved is aimed at the middle.
"""

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.kinds.kind import Lever
from breakangle.planning.solve.programme.least_power import least_power, share_not_too_deep
from breakangle.planning.solve.programme.problem import Problem
from breakangle.planning.solve.programme.stage import (
    Stage,
    in_hand,
    minutes_of,
    nearest_to_all,
    only_out,
    reads_out,
)
from breakangle.planning.state.expected_minutes import LIKELY_OUT, chance_out, minutes_left
from breakangle.reference.minutes import minutes_of as bench_minutes

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

# Where nothing else is said below: chosen; no source; `python -m bench closed_loop` tells what it costs.
FINISH_MINUTES = (
    bench_minutes("settle") + 2.0
)  # brought up to pitch, settled and looked at, whatever was moved
# Of its own tolerance that a rod may take for what else it moves. Common practice, no source.
LENT_SHARE = 0.9
COARSE = 2  # steps at once, where all else is decided anew for each of them
SWEEPS = 2  # what later stages do to earlier ones is small: the second sweep settles it
# A cut ends so far above the lower edge, too deep cannot be undone; and of the tolerance so much always stays usable
# below what is wanted. Common practice, no source.
DEEP_SPREADS, LEAST_DEEP_SHARE = 3.0, 0.1
WIDE_FROM = 3  # targets: an adjuster that serves so many is chosen among all the others like it


def best_amounts(problem: Problem, hand: Array, lend: bool = False) -> Array:
    """Return how far to move each lever (J,), zero for those to be left.

    `hand` (T,) is what a hand adds to the targets' spreads. `lend`: what is set in whole steps (a rod) is tried at each
    of them with all the rest, and may be turned for what else it moves while its own targets have room for that.
    """
    stepped = np.array([bool(lever.step) for lever in problem.levers])
    if not lend or not stepped.any():
        start, every = np.zeros(len(stepped)), np.ones(len(stepped), dtype=bool)
        swept = _swept(problem, hand, start, every)
        if not _sunk_by_the_rod(problem, swept, stepped).any():
            return _if_worth_it(problem, hand, swept)
        return _with_less_of_the_rod(problem, hand, swept, stepped)
    rod = int(np.argmax(stepped))
    own, found = problem.edges.own[:, rod], []
    for step in _steps(problem.levers[rod], COARSE):
        after = np.abs(problem.off + problem.per_unit[:, rod] * step)[own]
        if (after <= np.maximum(np.abs(problem.off), LENT_SHARE * problem.tolerance)[own] + 1e-9).all():
            found.append(_all_stages(problem, hand, np.where(stepped, step, 0.0), ~stepped))
    return min(found, key=lambda amounts: _minutes_after(problem, hand, amounts))


def _sunk_by_the_rod(problem: Problem, amounts: Array, stepped: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which figures the rod may sink below their tolerance that only a cut serves: nothing raises them."""
    raised = (problem.edges.own & np.array([one.high > 0.0 for one in problem.levers])).any(axis=1)
    sunk = problem.per_unit[:, stepped] @ amounts[stepped] < -1e-9
    after = problem.off + problem.per_unit @ amounts
    feared = (after < 0.0) & (chance_out(after, problem.tolerance, problem.spread) > LIKELY_OUT)
    return np.asarray(sunk & ~raised & feared)


def _with_less_of_the_rod(problem: Problem, hand: Array, swept: Array, stepped: NDArray[np.bool_]) -> Array:
    """Return the amounts with as much of the rod, up to what relief asks for, as leaves the fewest minutes in all."""
    rod = int(np.argmax(stepped))
    lever = problem.levers[rod]
    between = [step for step in _steps(lever, COARSE).tolist() if 0.0 <= step / swept[rod] < 1.0]
    found = [swept, *(_swept(problem, hand, np.where(stepped, step, 0.0), ~stepped) for step in between)]
    return min(
        (_if_worth_it(problem, hand, one) for one in found),
        key=lambda amounts: _minutes_after(problem, hand, amounts) + FINISH_MINUTES * bool(amounts.any()),
    )


def _all_stages(problem: Problem, hand: Array, start: Array, free: NDArray[np.bool_]) -> Array:
    """Return the amounts of the `free` levers, the others as they `start`; nothing where all that is not worth it."""
    return _if_worth_it(problem, hand, _swept(problem, hand, start, free))


def _if_worth_it(problem: Problem, hand: Array, amounts: Array) -> Array:
    return amounts if _worth_it(problem, hand, amounts) else np.zeros(len(amounts))


def _swept(problem: Problem, hand: Array, start: Array, free: NDArray[np.bool_]) -> Array:
    """Return the amounts of the `free` levers, stage by stage, the others as they `start`."""
    amounts = start.copy()
    orders = np.array([lever.order for lever in problem.levers])
    decided: dict[int, tuple[Array, frozenset[str]]] = {}
    for _ in range(SWEEPS):
        for order in np.unique(orders[free]).tolist():
            at = np.flatnonzero(orders == order)
            rest = np.where(orders == order, 0.0, amounts)
            paid = frozenset(problem.levers[index].trip for index in np.flatnonzero(rest))
            off = problem.off + problem.per_unit @ rest
            served = problem.edges.own[:, at].any(axis=1)
            if order not in decided or not _same(decided[order], (off[served], paid)):
                decided[order] = off[served], paid
                amounts[at] = _stage_amounts(problem, hand, at, off, paid)
    return amounts


def _same(one: tuple[Array, frozenset[str]], other: tuple[Array, frozenset[str]]) -> bool:
    """Return whether a stage is decided on just the same figures and trips as before."""
    return one[1] == other[1] and bool((one[0] == other[0]).all())


def _worth_it(problem: Problem, hand: Array, amounts: Array) -> bool:
    """Return whether all the moves together save more than they cost, tuning and settling at their end included."""
    stay = _minutes_after(problem, hand, np.zeros(len(amounts)))
    return bool(not amounts.any() or _minutes_after(problem, hand, amounts) + FINISH_MINUTES < stay)


def _minutes_after(problem: Problem, hand: Array, amounts: Array) -> float:
    """Return the minutes of all the moves and of what they leave."""
    moved = np.abs(amounts) > 1e-9
    touched = (problem.edges.own & moved).any(axis=1)
    spread = np.where(touched, np.hypot(problem.spread, hand), problem.spread)
    after = problem.off + problem.per_unit @ amounts
    used = [lever for lever, yes in zip(problem.levers, moved, strict=True) if yes]
    seen = touched & ~_by_cut(problem.levers, problem.edges.own, moved)
    return float(minutes_left(after, problem.tolerance, spread, seen).sum()) + minutes_of(used)


def _by_cut(levers: Sequence[Lever], own: NDArray[np.bool_], moved: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which targets are moved by something that cannot be put back, (T,)."""
    cuts = np.array([one.irreversible for one in levers], dtype=bool)
    return np.asarray((own & (moved & cuts)).any(axis=1))


def _stage_amounts(problem: Problem, hand: Array, at: Indices, off: Array, paid: frozenset[str]) -> Array:
    own = problem.edges.own[:, at]
    served = own.any(axis=1)
    if not served.any():
        return np.zeros(len(at))
    stage = Stage(
        tuple(problem.levers[index] for index in at),
        off[served],
        problem.per_unit[np.ix_(served, at)],
        own[served],
        problem.tolerance[served],
        problem.spread[served],
        hand[served],
        paid,
    )
    if stage.levers[0].step:
        return _whole_steps(stage)
    is_wide, alone = _wide(stage), _alone(stage)
    wide, narrow = np.flatnonzero(is_wide), (np.flatnonzero(alone), np.flatnonzero(~alone & ~is_wide))
    best, least = np.zeros(len(at)), np.inf
    for count in range(len(wide) + 1):
        for chosen in combinations(wide.tolist(), count):
            amounts, minutes = _with_narrow(stage, _fitted(stage, np.array(chosen, dtype=np.intp)), narrow)
            if minutes < least:
                best, least = amounts, minutes
    return best


def _whole_steps(stage: Stage) -> Array:
    """Return the amount of the one lever that is set in whole steps (a rod), by trying each."""
    lever = stage.levers[0]
    if not _may(lever, stage, stage.off):
        return np.zeros(1)
    amounts = _steps(lever)
    off = stage.off[:, None] + stage.effect[:, :1] * amounts
    left = minutes_left(off, stage.tolerance[:, None], stage.spread[:, None]).sum(axis=0)
    middle = (np.abs(off) / stage.tolerance[:, None]).max(axis=0)
    turned = lever.cost * np.abs(amounts) / lever.step + np.where(amounts != 0.0, lever.trip_minutes, 0.0)
    if middle.min() > 1.0:
        return np.array([nearest_to_all(amounts, middle)])
    return np.array([amounts[int(np.argmin(left + turned + middle))]])


def _steps(lever: Lever, every: int = 1) -> Array:
    """Return each, or each so many, of the amounts that a lever of whole steps can be moved."""
    step = lever.step * every
    low, high = np.ceil(lever.low / step - 1e-9), np.floor(lever.high / step + 1e-9)
    return np.arange(low, high + 1.0) * step


def _wide(stage: Stage) -> NDArray[np.bool_]:
    """Return which levers are chosen among all the others like them, (J,): of many figures, or of no single string.

    A post moves every string, also where few of them have been read.
    """
    whole = np.array([getattr(one.trial, "string", None) is None for one in stage.levers], dtype=bool)
    return np.asarray(whole | (stage.own.sum(axis=0) >= WIDE_FROM))


def _alone(stage: Stage) -> NDArray[np.bool_]:
    """Return which levers serve one figure that no other adjuster of few figures moves, (J,)."""
    movers = ((stage.effect != 0.0) & ~_wide(stage)).sum(axis=1)
    return np.asarray(
        (stage.own.sum(axis=0) == 1) & ~(stage.own & (movers > 1)[:, None]).any(axis=0) & ~_wide(stage)
    )


def _with_narrow(stage: Stage, amounts: Array, narrow: tuple[Indices, Indices]) -> tuple[Array, float]:
    """Return the amounts with each `narrow` adjuster moved to its figures' middle where that is worth it; the minutes.

    Those that serve a figure alone are decided all at once, the others in turn.
    """
    found = amounts.copy()
    alone, in_turn = narrow
    if len(alone):
        found[alone] = _each_alone(stage, alone, amounts, in_hand(stage, alone, amounts))
        if (out := in_hand(stage, alone, found)).any():
            found[alone] = _each_alone(stage, alone, amounts, out)
    for column in in_turn.tolist():
        served = np.flatnonzero(stage.own[:, column])
        off = stage.off[served] + stage.effect[served] @ found
        part = _part(stage, served, np.array([column]), off)
        if not _may(stage.levers[column], part, off):
            continue
        moved = _fitted(part, np.array([0]))
        if part.loss(moved, unseen=True) < minutes_left(off, part.tolerance, part.spread).sum():
            found[column] = moved[0]
    without = stage.loss(amounts)
    with_narrow = stage.loss(found) if (found != amounts).any() else without
    return (found, with_narrow) if with_narrow <= without else (amounts, without)


def _each_alone(stage: Stage, columns: Indices, amounts: Array, out: NDArray[np.bool_]) -> Array:
    """Return how far to move levers of one figure each and no other one's, beside `amounts`; `out`: in hand anyway."""
    served = np.argmax(stage.own[:, columns], axis=0)
    effect, tolerance, spread = stage.effect[served, columns], stage.tolerance[served], stage.spread[served]
    off = stage.off[served] + stage.effect[served] @ amounts
    cut = stage.irreversible[columns]
    wanted = np.divide(-off, effect, out=np.zeros(len(columns)), where=effect != 0.0)
    found = np.minimum(np.maximum(wanted, stage.low[columns]), stage.high[columns])
    lowered = cut & (effect * found < -1e-9)
    room = np.divide(off + _deep(stage)[served], -effect * found, out=np.ones(len(columns)), where=lowered)
    found = found * np.minimum(np.maximum(room, 0.0), 1.0)
    moved = np.abs(found) > 1e-9
    after = np.where(moved, np.hypot(spread, stage.hand[served]), spread)
    left = minutes_left(off + effect * found, tolerance, after, moved & ~cut) + moved * stage.cost[columns]
    # A screw is not turned for the sake of being looked at afterwards: unseen too, the figure has to gain by it.
    unseen = minutes_left(off + effect * found, tolerance, after) + moved * stage.cost[columns]
    worth = np.maximum(left, unseen) < minutes_left(off, tolerance, spread)
    least = np.where(out, LIKELY_OUT, stage.least_chance_out[columns])
    likely = chance_out(off, tolerance, spread) >= least
    likely &= ~stage.only_out[columns] | out | reads_out(off, tolerance, spread)
    return np.where(worth & likely, found, 0.0)


def _may(lever: Lever, part: Stage, off: Array) -> bool:
    """Return whether a lever may be moved: some figure it serves is likely enough outside."""
    likely = chance_out(off, part.tolerance, part.spread).max() >= lever.least_chance_out
    return bool(likely and (not only_out(lever) or reads_out(off, part.tolerance, part.spread).any()))


def _part(stage: Stage, served: Indices, columns: Indices, off: Array) -> Stage:
    return Stage(
        tuple(stage.levers[index] for index in columns),
        off,
        stage.effect[np.ix_(served, columns)],
        stage.own[np.ix_(served, columns)],
        stage.tolerance[served],
        stage.spread[served],
        stage.hand[served],
        stage.paid | {lever.trip for lever in stage.levers},
    )


def _fitted(stage: Stage, chosen: Indices) -> Array:
    """Return amounts that bring what the chosen levers serve nearest the middle, with their limits, (J,)."""
    amounts = np.zeros(len(stage.levers))
    if not len(chosen):
        return amounts
    cut = stage.irreversible[chosen].any()
    deep = _deep(stage) if cut else stage.tolerance
    served = stage.own[:, chosen].any(axis=1)
    effect, off = stage.effect[np.ix_(served, chosen)], stage.off[served]
    found = least_power(
        effect, off, stage.tolerance[served], deep[served], (stage.low[chosen], stage.high[chosen])
    )
    if cut:
        found = found * share_not_too_deep(off, effect @ found, deep[served])
    amounts[chosen] = found
    return amounts


def _deep(stage: Stage) -> Array:
    """Return how far below what is wanted a cut may leave each figure, (T,)."""
    spread = np.hypot(stage.spread, stage.hand)
    return np.maximum(stage.tolerance - DEEP_SPREADS * spread, LEAST_DEEP_SHARE * stage.tolerance)
