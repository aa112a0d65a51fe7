"""Which adjusters to move, by how much: the state and its targets put to the solver, and what it cannot reach."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from breakangle.model.plan import Finding
from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.registry import adjustment_kind
from breakangle.planning.kinds.targets.gap import GapTarget, is_relief
from breakangle.planning.solve.amounts import moved_off, worthwhile_moves
from breakangle.planning.solve.deferred import Moves, not_too_soon, nothing_raises, one_side_of_a_twist, waits
from breakangle.planning.solve.gate import gate_of
from breakangle.planning.solve.held_back import HeldBack, beside, held_back, under_the_neck
from breakangle.planning.solve.lever_limits import usable_levers, vain_cuts
from breakangle.planning.solve.margins import Edges, begun, edges, hand_spread, own_targets
from breakangle.planning.solve.nearer import still_outside
from breakangle.planning.solve.programme.posed import problem_of
from breakangle.planning.solve.programme.problem import Problem
from breakangle.planning.solve.programme.stages import FINISH_MINUTES
from breakangle.planning.solve.unreached import Unreached, all_outside, slots_too_deep, unreached
from breakangle.reference.strength import played

if TYPE_CHECKING:
    from breakangle.planning.buzz.no_buzz import Conflict

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Mending:
    """What it takes to bring each target to what is wanted, (T,): minutes (inf: nothing does), the spread it adds.

    `least_chance` is how likely a figure has to be outside before that is done, `seen` whether it is seen and put right
    if it comes out wrong.
    """

    minutes: Array
    spread: Array
    least_chance: Array
    seen: NDArray[np.bool_]


@dataclass(frozen=True)
class Decision:
    """What the solver decided: levers with amounts, and the targets that stay outside.

    `turn` (T,): when in the order of work each target's own adjusters have their turn. `waiting` (T,): what is left
    until it has been read. `lent_to`: the targets that the rod is turned for, where relief asks for nothing.
    `feared`: what reads inside and may come out of a turn of the rod, with nothing to bring it back. `held_back`: the
    cuts that a shut gate keeps from being ordered.
    """

    moves: Moves
    unreached: tuple[Unreached, ...]
    turn: Array
    waiting: NDArray[np.bool_]
    lent_to: tuple[int, ...] = ()
    feared: tuple[int, ...] = ()
    held_back: tuple[HeldBack, ...] = ()
    mending: Mending | None = None


def _mending(levers: Sequence[Lever], own: NDArray[np.bool_], moves: Moves, hand: Array) -> Mending:
    """Return what mending each target takes by the cheapest lever of its own: what is made anyway adds nothing."""
    cost = []
    for one in levers:
        others = [lever for lever, _ in moves if lever.name != one.name]
        trip = 0.0 if any(lever.trip == one.trip for lever in others) else one.trip_minutes
        cost.append(one.cost + trip + (0.0 if others else FINISH_MINUTES))
    minutes = np.where(own, np.array(cost), np.inf)
    best = np.argmin(minutes, axis=1)
    least = np.array([one.least_chance_out for one in levers])
    seen = np.array([not one.irreversible for one in levers], dtype=bool)
    return Mending(minutes[np.arange(len(best)), best], hand, least[best], seen[best])


def decide(
    service: Service,
    now: Estimate,
    sight: Sight,
    without: Sequence[Adjustment] = (),
    found_patterns: Sequence[Finding] = (),
    whole: Sight | None = None,
) -> Decision:
    """Return which adjusters to move, by how much, and what no adjuster can put right; `without` are left alone.

    `found_patterns`: what is found in the readings; some of it holds cuts back. The rod is turned for relief. Where
    heights stay out that nothing of their own can reach, and relief has the room to bring all of them inside, it is
    turned for them before the instrument is called beyond a set-up. Out is what ends outside its tolerance in `whole`,
    where the tolerances in `sight` are narrower: the rod is not lent to what is inside.
    """
    found = _decided(service, now, sight, without, found_patterns)
    held = {
        index for one in found.held_back if one.awaited for index in one.serves
    }  # that a reading may yet release
    whole = sight if whole is None else whole
    out = still_outside(found.unreached, whole, sight, by_hand=True)
    at_end = [one.target for one in out if one.at_end and one.target not in held]
    heights = tuple(index for index in at_end if isinstance(sight.targets[index], GapTarget))
    if not heights:
        return found
    # What only the rod reaches is brought inside the whole of its tolerance, and relief may use all of its own.
    lent = replace(sight, tolerance=whole.tolerance)
    helped = _decided(service, now, lent, without, found_patterns, rod_helps=True)
    missed, left = {one.target for one in out}, {one.target for one in helped.unreached}
    return replace(helped, lent_to=heights) if left < missed and not left & set(heights) else found


@dataclass(frozen=True)
class _Open:
    """What may be moved: the levers that no reading, doubt or pattern holds, and what they serve; what is held."""

    levers: tuple[Lever, ...]
    own: NDArray[np.bool_]
    sight: Sight
    waiting: NDArray[np.bool_]
    held_back: tuple[HeldBack, ...]


def _opened(
    service: Service,
    now: Estimate,
    sight: Sight,
    without: Sequence[Adjustment],
    patterns: Sequence[Finding],
    rod_helps: bool,
) -> _Open:
    levers = usable_levers(service, now, sight, without, rod_helps)
    own = own_targets(levers, sight.targets)
    gate = gate_of(service, now, sight, levers, own, patterns)
    waiting = waits(service, now, sight, levers, own)
    shut = own[:, ~gate.is_open].any(axis=1) & ~own[:, gate.is_open].any(axis=1)
    waiting |= (shut & sight.judged & ~sight.inside) | one_side_of_a_twist(service, now, sight, patterns)
    judged = sight.judged & (~waiting | nothing_raises(service, now, sight, levers, own))
    kept = np.flatnonzero(gate.is_open & ~own[waiting].any(axis=0))  # nothing is worked on that waits
    return _Open(
        tuple(levers[index] for index in kept),
        own[:, kept],
        replace(sight, judged=judged),
        waiting,
        held_back(sight, levers, own, gate),
    )


def _decided(
    service: Service,
    now: Estimate,
    sight: Sight,
    without: Sequence[Adjustment],
    patterns: Sequence[Finding],
    rod_helps: bool = False,
) -> Decision:
    may = _opened(service, now, sight, without, patterns, rod_helps)
    levers, own, sight, waiting, held = may.levers, may.own, may.sight, may.waiting, may.held_back
    strength = service.targets.no_buzz_at if service.targets else None
    too_deep = tuple(Unreached(index, None) for index in slots_too_deep(service, sight))
    good = _good_already(service, sight) and not (strength and buzzes(now, strength))
    hand = hand_spread(now, sight, levers, own)
    if not levers or good:
        outside = () if levers else all_outside(sight, too_deep)
        mending = _mending(levers, own, (), hand) if levers else None
        turn = np.zeros(len(sight.targets))
        return Decision((), too_deep + outside, turn, waiting, held_back=held, mending=mending)
    room = edges(service, sight, levers, own, hand)
    problem = problem_of(now, sight, levers, room, strength)
    moves, early, until_read = not_too_soon(
        worthwhile_moves(service, now, sight, problem, hand[sight.judged], rod_helps), sight
    )
    held += beside(early, "rod" if any(one.doubtful for one, _ in moves) else "slide", sight)
    amounts = _spread_out(problem, moves)
    final = moved_off(now, sight, problem, amounts)
    missed, feared = _told_by_the_rod(moves, sight, unreached(problem, amounts, final, sight))
    missed = tuple(one for one in missed if not (until_read | waiting)[one.target])
    vain = vain_cuts(now, sight, moves, missed)
    if vain:
        rest = _decided(service, now, sight, [*without, *vain], patterns, rod_helps)
        why = under_the_neck(moves, vain, missed, sight)
        unmade = _with_reasons(vain, missed, rest.unreached, sight)
        return replace(rest, unreached=unmade, held_back=rest.held_back + why)
    missed += tuple(one for one in too_deep if one.target not in {two.target for two in missed})
    return Decision(
        moves, missed, _turn(levers, room), waiting | until_read, feared=feared, held_back=held,
        mending=_mending(levers, own, moves, hand),
    )  # fmt: skip


def _with_reasons(
    vain: Sequence[Adjustment], before: Sequence[Unreached], after: Sequence[Unreached], sight: Sight
) -> tuple[Unreached, ...]:
    """Return what stays outside once the cuts in `vain` are not made: of what they serve, why they are not.

    That the rest of it is not cut now is no reason by itself: it comes with the new saddle.
    """
    served = [any(adjustment_kind(cut).verified_by(cut, one) for cut in vain) for one in sight.targets]
    return (
        *(one for one in after if not served[one.target]),
        *(one for one in before if served[one.target]),
    )


def _told_by_the_rod(
    moves: Moves, sight: Sight, missed: tuple[Unreached, ...]
) -> tuple[tuple[Unreached, ...], tuple[int, ...]]:
    """Return what stays outside without what a turn of the rod is only expected to put out, there; and that.

    Nothing is called beyond a set-up that nobody has read to be out, on that side.
    """
    if not any(lever.doubtful for lever, _ in moves):
        return missed, ()
    feared = tuple(
        one.target
        for one in missed
        if (sight.inside[one.target] or sight.off[one.target] * (one.far_ratio or 0.0) < 0.0)
        and not is_relief(sight.targets[one.target])
    )
    return tuple(one for one in missed if one.target not in feared), feared


def _turn(levers: Sequence[Lever], room: Edges) -> Array:
    """Return when each target's own adjusters have their turn; after all others where it has none, (T,)."""
    orders = np.array([float(lever.order) for lever in levers])
    return np.asarray(np.min(np.where(room.own, orders, np.inf), axis=1))


def buzzes(now: Estimate, strength: str) -> "tuple[Conflict, ...]":
    """Return the strings that would touch a crown at `strength` in the state `now`, worst first."""
    from breakangle.planning.buzz.no_buzz import conflicts

    return conflicts(now.picture, played(now.board.instrument), strength)


def _spread_out(problem: Problem, moves: Moves) -> Array:
    """Return the amounts over all levers of `problem`, zero where one is not used."""
    by_name = {lever.name: amount for lever, amount in moves}
    return np.array([by_name.get(lever.name, 0.0) for lever in problem.levers])


def _good_already(service: Service, sight: Sight) -> bool:
    """Return whether nothing has been worked on yet and all that can be judged reads inside.

    Such an instrument is left alone; one that has been adjusted is finished so that it reads well tomorrow too.
    """
    return not begun(service) and bool(np.all(sight.inside | ~sight.judged))
