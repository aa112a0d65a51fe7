"""Which adjusters to move, by how much: the state and its targets put to the solver, and what it cannot reach."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.planning.adjustments.tune import Tune
from breakangle.planning.estimate import Estimate, adjusted
from breakangle.planning.kinds import Lever
from breakangle.planning.layout import Belief
from breakangle.planning.margins import Edges, begun, edges, left_edge, only_cut, own_targets
from breakangle.planning.registry import adjustment_kind
from breakangle.planning.sight import Sight, place_read, sight_of
from breakangle.planning.solver import Floors, Problem, choose, settle
from breakangle.planning.targets.gap import GapTarget
from breakangle.planning.unreached import OUTSIDE_SHARE, Unreached, all_outside, slots_too_deep, unreached
from breakangle.planning.usable import same_adjuster, usable_levers, vain_cuts
from breakangle.planning.waiting import Moves, not_too_soon, waits
from breakangle.tables.strength import playing

if TYPE_CHECKING:
    from breakangle.planning.no_buzz import Conflict

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
RETOUCH_COST = 0.15  # an adjuster already turned in this service costs little to turn again
ARRIVAL_SLACK_SPREADS = 0.25
# Buzz: conditions farther off than this are not broken by a set-up; and a hair to spare.
FLOOR_REACH_MM, FLOOR_MARGIN_MM = 1.0, 0.005
KEEP_WEIGHT = 8.0  # what is good already is not given up so that something else is less bad


@dataclass(frozen=True)
class Decision:
    """What the solver decided: levers with amounts, and the targets that stay outside.

    `turn` (T,): when in the order of work each target's own adjusters have their turn. `waiting` (T,): what is left
    until it has been read. `lent_to`: the targets that the rod is turned for, where relief asks for nothing.
    """

    moves: Moves
    unreached: tuple[Unreached, ...]
    turn: Array
    waiting: NDArray[np.bool_]
    lent_to: tuple[int, ...] = ()


def _touched(service: Service, levers: Sequence[Lever]) -> set[str]:
    """Return the names of the levers that this service has already moved."""
    found = set()
    for lever in levers:
        trial = lever.made(lever.step or lever.typical)
        for done in service.work:
            if trial and same_adjuster(trial[0], done):
                found.add(lever.name)
    return found


def _problem(
    now: Estimate, sight: Sight, levers: tuple[Lever, ...], room: Edges, buzz_free: str | None
) -> Problem:
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
        keep=np.where(sight.inside[judged], KEEP_WEIGHT, 1.0),
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


def _moved_off(now: Estimate, sight: Sight, problem: Problem, amounts: Array) -> Array:
    """Return how far off the judged targets would be after `amounts`, by the full model."""
    mean = now.belief.mean + sum(
        amount * lever.direction for amount, lever in zip(amounts, problem.levers, strict=True)
    )
    return sight_of(replace(now, belief=Belief(mean, now.belief.covariance)), sight.targets).off[sight.judged]


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
    moves, until_read = not_too_soon(_moves(service, now, sight, problem), sight)
    amounts = _spread_out(problem, moves)
    final = _moved_off(now, sight, problem, amounts)
    missed = tuple(one for one in unreached(problem, amounts, final, sight) if not until_read[one.target])
    vain = vain_cuts(now, sight, moves, missed)
    if vain:
        return _decided(service, now, sight, [*without, *vain], rod_helps)
    known = {one.target for one in missed}
    missed += tuple(one for one in too_deep if one.target not in known)
    return Decision(moves, missed, _turn(levers, room), waiting | until_read)


def _moves(service: Service, now: Estimate, sight: Sight, problem: Problem) -> Moves:
    """Return the levers worth moving, with their amounts by the full model."""
    touched = _touched(service, problem.levers)
    costs = np.array([RETOUCH_COST if one.name in touched else one.cost for one in problem.levers])
    chosen = _in_stages(problem, _cut_by_hand(now), lambda part, which: choose(part, costs[which]).amounts)
    part, amounts = _settled(now, sight, problem, chosen)
    least = [_least(lever, now) for lever in part.levers]
    worth = np.flatnonzero(np.abs(amounts) >= least)
    part, amounts = part.only(worth), amounts[worth]
    helps = np.flatnonzero(
        _helping(part, amounts, _moved_off(now, sight, part, amounts), sight.inside[sight.judged])
    )
    return tuple(zip(part.only(helps).levers, amounts[helps].tolist(), strict=True))


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


def _turn(levers: Sequence[Lever], room: Edges) -> Array:
    """Return when each target's own adjusters have their turn; after all others where it has none, (T,)."""
    orders = np.array([float(lever.order) for lever in levers])
    return np.asarray(np.min(np.where(room.own, orders, np.inf), axis=1))


def buzzes(now: Estimate, strength: str) -> "tuple[Conflict, ...]":
    """Return the strings that would touch a crown at `strength` in the state `now`, worst first."""
    from breakangle.planning.no_buzz import conflicts

    return conflicts(now.picture, playing(now.board.instrument.kind), strength)


def _settled(now: Estimate, sight: Sight, problem: Problem, amounts: Array) -> tuple[Problem, Array]:
    """Return the problem with only the levers chosen, and their amounts by the full, bent model."""
    used = np.flatnonzero(np.abs(amounts) > 1e-6)
    part, chosen = problem.only(used), amounts[used]
    if not len(used):
        return part, chosen
    bent = replace(part, off=_moved_off(now, sight, part, chosen) - part.per_unit @ chosen)
    amounts = _in_stages(bent, _cut_by_hand(now), lambda one, which: settle(one).amounts)
    # Well inside may want the rod where it is, and another target out: then it is turned as far as was chosen.
    lost = np.array([one.doubtful for one in part.levers]) & (np.abs(amounts) < 1e-6)
    out = np.abs(_moved_off(now, sight, part, amounts)) > (1.0 + OUTSIDE_SHARE) * part.tolerance
    if lost.any() and out.any():
        kept = np.flatnonzero(~lost)
        rest = replace(bent.only(kept), off=bent.off + bent.per_unit[:, lost] @ chosen[lost])
        amounts = chosen.copy()
        amounts[kept] = _in_stages(rest, _cut_by_hand(now), lambda one, which: settle(one).amounts)
    return part, amounts


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


def _least(lever: Lever, now: Estimate) -> float:
    """Return the smallest amount worth a move: half of the finest that the hand can set."""
    first = lever.made(lever.typical)[0]
    return 0.5 * adjustment_kind(first).finest(now.board.instrument)
