"""Which adjusters to move, by how much: the state and its targets put to the solver, and what it cannot reach."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.planning.amounts import moved_off, worthwhile_moves
from breakangle.planning.estimate import Estimate, adjusted
from breakangle.planning.kinds import Lever
from breakangle.planning.margins import Edges, begun, edges, left_edge, only_cut, own_targets
from breakangle.planning.registry import adjustment_kind
from breakangle.planning.sight import Sight, place_read
from breakangle.planning.solver import Floors, Problem
from breakangle.planning.targets.gap import GapTarget, is_relief
from breakangle.planning.unreached import Unreached, all_outside, slots_too_deep, unreached
from breakangle.planning.usable import usable_levers, vain_cuts
from breakangle.planning.waiting import Moves, not_too_soon, waits
from breakangle.tables.strength import playing

if TYPE_CHECKING:
    from breakangle.planning.no_buzz import Conflict

Array = NDArray[np.float64]
ARRIVAL_SLACK_SPREADS = 0.25
# Buzz: conditions farther off than this are not broken by a set-up; and a hair to spare.
FLOOR_REACH_MM, FLOOR_MARGIN_MM = 1.0, 0.005
# What is good already is not given up so that something else is less bad, nor what the rod is for, which comes first.
KEEP_WEIGHT = 8.0


@dataclass(frozen=True)
class Decision:
    """What the solver decided: levers with amounts, and the targets that stay outside.

    `turn` (T,): when in the order of work each target's own adjusters have their turn. `waiting` (T,): what is left
    until it has been read. `lent_to`: the targets that the rod is turned for, where relief asks for nothing.
    `feared`: what reads inside and may come out of a turn of the rod, with nothing to bring it back.
    """

    moves: Moves
    unreached: tuple[Unreached, ...]
    turn: Array
    waiting: NDArray[np.bool_]
    lent_to: tuple[int, ...] = ()
    feared: tuple[int, ...] = ()


def _problem(
    now: Estimate, sight: Sight, levers: tuple[Lever, ...], room: Edges, buzz_free: str | None
) -> Problem:
    """Return the judged targets and the levers in numbers, linear around the present state."""
    judged = sight.judged
    directions = np.stack([lever.direction for lever in levers], axis=1)
    first = room.own[:, [lever.doubtful for lever in levers]].any(axis=1)
    return Problem(
        levers=levers,
        off=sight.off[judged],
        per_unit=sight.rows[judged] @ directions,
        tolerance=sight.tolerance[judged],
        spread=sight.spread[judged],
        doubt=_doubt(now, sight, levers)[judged],
        keep=np.where((sight.inside | first)[judged], KEEP_WEIGHT, 1.0),
        edges=room.of(judged),
        floors=_floors(now, buzz_free, directions),
    )


def _floors(now: Estimate, strength: str | None, directions: Array) -> Floors:
    """Return what keeps every note clear at `strength`: of each note, the crown nearest to being touched."""
    if strength is None:
        return Floors(np.zeros(0), np.zeros((0, directions.shape[1])))
    from breakangle.planning.no_buzz import floors

    found = floors(now.picture, playing(now.board.instrument.kind), strength, within_mm=FLOOR_REACH_MM)
    worst: dict[tuple[int, int], int] = {}
    for index in np.argsort(found.lack_mm).tolist():
        worst[int(found.string[index]), int(found.stop[index])] = index
    kept = sorted(worst.values())
    return Floors(found.lack_mm[kept] + FLOOR_MARGIN_MM, found.rows[kept] @ directions)


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


def decide(service: Service, now: Estimate, sight: Sight, without: Sequence[Adjustment] = ()) -> Decision:
    """Return which adjusters to move, by how much, and what no adjuster can put right; `without` are left alone.

    The rod is turned for relief. Where heights stay out that nothing of their own can reach, and relief has the room to
    bring all of them inside, it is turned for them before the instrument is called beyond a set-up.
    """
    found = _decided(service, now, sight, without)
    at_end = [one.target for one in found.unreached if one.at_end]
    heights = tuple(index for index in at_end if isinstance(sight.targets[index], GapTarget))
    if not heights:
        return found
    helped = _decided(service, now, sight, without, rod_helps=True)
    reached = _missed(helped) < _missed(found) and not _missed(helped) & set(heights)
    return replace(helped, lent_to=heights) if reached else found


def _missed(decision: Decision) -> set[int]:
    return {one.target for one in decision.unreached}


def _decided(
    service: Service, now: Estimate, sight: Sight, without: Sequence[Adjustment], rod_helps: bool = False
) -> Decision:
    levers = usable_levers(service, now, sight, without, rod_helps)
    own = own_targets(levers, sight.targets)
    waiting = waits(service, now, sight, levers, own)
    kept = np.flatnonzero(~(only_cut(levers) & own[waiting].any(axis=0)))  # nothing is cut that waits
    levers, own = tuple(levers[index] for index in kept), own[:, kept]
    sight = replace(sight, judged=sight.judged & ~waiting)
    strength = service.targets.no_buzz_at if service.targets else None
    too_deep = tuple(Unreached(index, None) for index in slots_too_deep(service, sight))
    if not levers or (_good_already(service, sight) and not (strength and buzzes(now, strength))):
        outside = () if levers else all_outside(sight, too_deep)
        return Decision((), too_deep + outside, np.zeros(len(sight.targets)), waiting)
    room = edges(service, now, sight, levers, own)
    problem = _problem(now, sight, levers, room, strength)
    moves, until_read = not_too_soon(worthwhile_moves(service, now, sight, problem), sight)
    amounts = _spread_out(problem, moves)
    final = moved_off(now, sight, problem, amounts)
    missed, feared = _told_by_the_rod(moves, sight, unreached(problem, amounts, final, sight))
    missed = tuple(one for one in missed if not until_read[one.target])
    vain = vain_cuts(now, sight, moves, missed)
    if vain:
        rest = _decided(service, now, sight, [*without, *vain], rod_helps)
        return replace(rest, unreached=_with_reasons(vain, missed, rest.unreached, sight))
    known = {one.target for one in missed}
    missed += tuple(one for one in too_deep if one.target not in known)
    return Decision(moves, missed, _turn(levers, room), waiting | until_read, feared=feared)


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
        if (sight.inside[one.target] or sight.off[one.target] * one.far_ratio < 0.0)
        and not is_relief(sight.targets[one.target])
    )
    return tuple(one for one in missed if one.target not in feared), feared


def _turn(levers: Sequence[Lever], room: Edges) -> Array:
    """Return when each target's own adjusters have their turn; after all others where it has none, (T,)."""
    orders = np.array([float(lever.order) for lever in levers])
    return np.asarray(np.min(np.where(room.own, orders, np.inf), axis=1))


def buzzes(now: Estimate, strength: str) -> "tuple[Conflict, ...]":
    """Return the strings that would touch a crown at `strength` in the state `now`, worst first."""
    from breakangle.planning.no_buzz import conflicts

    return conflicts(now.picture, playing(now.board.instrument.kind), strength)


def _spread_out(problem: Problem, moves: Moves) -> Array:
    """Return the amounts over all levers of `problem`, zero where one is not used."""
    by_name = {lever.name: amount for lever, amount in moves}
    return np.array([by_name.get(lever.name, 0.0) for lever in problem.levers])


def _good_already(service: Service, sight: Sight) -> bool:
    """Return whether all that can be judged is inside: as it reads on arrival, and with some margin after work.

    An instrument that reads well is left alone. One that has been adjusted is finished so that it would
    read well tomorrow too.
    """
    edge = left_edge(service, sight)
    if not begun(service):
        # What reads inside must not be touched because of what was believed before it was read, unless read twice.
        plain = sight.tolerance + ARRIVAL_SLACK_SPREADS * sight.spread
        edge = np.where(_read_twice(service, sight), edge, plain)
    return bool(np.all((np.abs(sight.off) <= edge) | ~sight.judged))


def _read_twice(service: Service, sight: Sight) -> NDArray[np.bool_]:
    """Return which targets have been read, just as they are wished, more than once since the last step, (T,)."""
    times = Counter(place_read(one) for one in service.readings if one.after == len(service.work))
    return np.array([times[one] > 1 for one in sight.places], dtype=bool)
