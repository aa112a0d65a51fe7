"""Which adjusters to move, by how much: the state and its targets put to the solver, and what it cannot reach."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.planning.estimate import Estimate, adjusted
from breakangle.planning.kinds import Lever
from breakangle.planning.layout import Belief
from breakangle.planning.margins import Edges, begun, edges, left_edge
from breakangle.planning.registry import adjustment_kind, reading_kind
from breakangle.planning.sight import Sight, sight_of
from breakangle.planning.solver import Floors, Problem, choose, settle
from breakangle.planning.usable import same_adjuster, usable_levers, vain_cuts
from breakangle.tables.strength import playing

if TYPE_CHECKING:
    from breakangle.planning.no_buzz import Conflict

Array = NDArray[np.float64]
RETOUCH_COST = 0.15  # an adjuster already turned in this service costs little to turn again
RELINEARISATIONS = 1
ARRIVAL_SLACK_SPREADS = 0.25
# Buzz: conditions farther off than this are not broken by a set-up; and a hair to spare.
FLOOR_REACH_MM, FLOOR_MARGIN_MM = 1.0, 0.005
KEEP_WEIGHT = 8.0  # what is good already is not given up so that something else is less bad
OUTSIDE_SHARE = 0.15  # of a tolerance: what stays outside by less is the hand's, not beyond a set-up


@dataclass(frozen=True)
class Unreached:
    """A target (by its place) that stays outside; `in_the_way`: the one that moving further would put out."""

    target: int
    in_the_way: int | None


@dataclass(frozen=True)
class Decision:
    """What the solver decided: levers with amounts, and the targets that stay outside.

    `turn` (T,): when in the order of work each target's own adjusters have their turn.
    """

    moves: tuple[tuple[Lever, float], ...]
    unreached: tuple[Unreached, ...]
    turn: Array


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
    """Return which adjusters to move, by how much, and what no adjuster can put right; `without` are left alone."""
    levers = usable_levers(service, now, sight, without)
    at_once = np.zeros(len(sight.targets))
    strength = service.targets.no_buzz_at if service.targets else None
    too_deep = _slots_too_deep(service, sight)
    if _good_already(service, sight) and not (strength and buzzes(now, strength)):
        return Decision((), tuple(Unreached(index, None) for index in too_deep), at_once)
    if not levers:
        outside = {*np.flatnonzero(sight.judged & ~sight.inside).tolist(), *too_deep}
        return Decision((), tuple(Unreached(index, None) for index in sorted(outside)), at_once)
    touched = _touched(service, levers)
    costs = np.array([RETOUCH_COST if lever.name in touched else lever.cost for lever in levers])
    room = edges(service, now, sight, levers)
    problem = _problem(now, sight, levers, room, strength)
    part, amounts = _settled(now, sight, problem, choose(problem, costs).amounts)
    worth = np.array(
        [abs(amount) >= _least(lever, now) for lever, amount in zip(part.levers, amounts, strict=True)],
        dtype=bool,
    )
    part, amounts = part.only(np.flatnonzero(worth)), amounts[worth]
    final = _moved_off(now, sight, part, amounts)
    helps = _helping(part, amounts, final, sight.inside[sight.judged])
    if not helps.all():
        part, amounts = part.only(np.flatnonzero(helps)), amounts[helps]
        final = _moved_off(now, sight, part, amounts)
    moves = tuple(zip(part.levers, amounts.tolist(), strict=True))
    unreached = _unreached(problem, _spread_out(problem, part, amounts), final, sight)
    vain = vain_cuts(now, sight, moves, [one.target for one in unreached])
    if vain:
        return decide(service, now, sight, [*without, *vain])
    known = {one.target for one in unreached}
    unreached += tuple(Unreached(index, None) for index in too_deep if index not in known)
    return Decision(moves, unreached, _turn(levers, room))


def _slots_too_deep(service: Service, sight: Sight) -> list[int]:
    """Return the targets of slots that have just read nothing where something is wanted: no figure tells how much."""
    nothing = {
        reading_kind(one).place(one)
        for one in service.readings
        if one.after == len(service.work) and one.quantity == "gap" and getattr(one, "mm", 1.0) <= 0.0
    }
    return [
        index
        for index, target in enumerate(sight.targets)
        if target.quantity == "gap"
        and 0 < target.fret < min(target.held, default=0)  # type: ignore[attr-defined]
        and sight.value[index] - sight.off[index] > sight.tolerance[index]
        and reading_kind(sight.reading(index)).place(sight.reading(index)) in nothing
    ]


def _helping(part: Problem, amounts: Array, final: Array, inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which moves help: not those without which everything they serve stays inside its edge all the same.

    Worked out again by the full model, an adjuster may no longer be needed that the linear choice needed.
    """
    helps, left = np.ones(len(amounts), dtype=bool), final.copy()
    reach = np.abs(part.per_unit * amounts) / part.tolerance[:, None]
    for index in np.argsort(reach.max(axis=0, initial=0.0)):
        own = part.edges.own[:, index]
        without = left - part.per_unit[:, index] * amounts[index]
        no_worse = np.abs(without) <= np.maximum(part.edges.left, np.abs(left))
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
    part, amounts = problem.only(used), amounts[used]
    for _ in range(RELINEARISATIONS if len(used) else 0):
        true_off = _moved_off(now, sight, part, amounts)
        off = true_off - part.per_unit @ amounts
        amounts = settle(replace(part, off=off)).amounts
    return part, amounts


def _spread_out(problem: Problem, part: Problem, amounts: Array) -> Array:
    """Return the amounts over all levers of `problem`, zero where one is not used."""
    by_name = {lever.name: amount for lever, amount in zip(part.levers, amounts, strict=True)}
    return np.array([by_name.get(lever.name, 0.0) for lever in problem.levers])


def _unreached(problem: Problem, amounts: Array, final: Array, sight: Sight) -> tuple[Unreached, ...]:
    """Return the targets that stay outside, each with the target that stands in its way, if one does."""
    places = np.flatnonzero(sight.judged)
    outside = np.abs(final) - problem.tolerance > OUTSIDE_SHARE * problem.tolerance
    found = []
    for index in np.flatnonzero(outside):
        blocking = _in_the_way(problem, amounts, final, int(index))
        found.append(Unreached(int(places[index]), None if blocking is None else int(places[blocking])))
    return tuple(found)


def _in_the_way(problem: Problem, amounts: Array, final: Array, index: int) -> int | None:
    """Return the target that more of this target's own adjuster would put out; None if that has no more to give."""
    slope = problem.per_unit[index]
    way = -np.sign(final[index] * slope)
    room = np.array(
        [
            (lever.high - amount) if toward > 0 else (amount - lever.low)
            for lever, amount, toward in zip(problem.levers, amounts, way, strict=True)
        ]
    )
    own = problem.edges.own[index]
    gain = np.where(own & (room >= [lever.step for lever in problem.levers]), np.abs(slope) * room, 0.0)
    best = int(np.argmax(gain))
    if gain[best] < 0.5 * problem.tolerance[index]:
        return None
    moved = final - problem.per_unit[:, best] * final[index] / slope[best]
    hurt = (np.abs(moved) - problem.tolerance) / problem.tolerance
    worst = int(np.argmax(hurt))
    return worst if hurt[worst] > 0.0 else None


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
    here = [one for one in service.readings if one.after == len(service.work)]
    places = [(one.quantity, reading_kind(one).place(one)) for one in here]
    shown = [sight.reading(index) for index in range(len(sight.targets))]
    return np.array(
        [places.count((one.quantity, reading_kind(one).place(one))) > 1 for one in shown], dtype=bool
    )


def _least(lever: Lever, now: Estimate) -> float:
    """Return the smallest amount worth a move: half of the finest that the hand can set."""
    first = lever.made(lever.typical)[0]
    return 0.5 * adjustment_kind(first).finest(now.board.instrument)
