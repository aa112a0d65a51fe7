"""The question that is put to the solver: judged targets and levers in numbers, linear around the present state."""

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.estimate.estimate import Estimate, adjusted
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.registry import adjustment_kind
from breakangle.planning.solve.margins import Edges
from breakangle.planning.solve.programme.problem import Floors, Problem
from breakangle.reference.strength import played

Array = NDArray[np.float64]
# Where nothing else is said below: chosen; no source; `python -m bench closed_loop` tells what it costs.
# Buzz: conditions farther off than this are not broken by a set-up; and a hair to spare.
FLOOR_REACH_MM, FLOOR_MARGIN_MM = 1.0, 0.005
# What is good already is not given up so that something else is less bad, nor what the rod is for, which comes first.
KEEP_WEIGHT = 8.0


def problem_of(
    now: Estimate, sight: Sight, levers: tuple[Lever, ...], room: Edges, buzz_free: str | None
) -> Problem:
    """Return the judged targets and the levers in numbers, linear around the present state."""
    judged = sight.judged
    directions = np.stack([lever.direction for lever in levers], axis=1)
    first = room.own[:, [lever.doubtful for lever in levers]].any(axis=1)
    floors = _floors(now, buzz_free, directions)
    # Only where notes have to stay clear is a margin kept for what a lever may do; else by what is expected of it.
    doubt = _doubt(now, sight, levers) if len(floors.lack) else np.zeros((len(judged), len(levers)))
    return Problem(
        levers=levers,
        off=sight.off[judged],
        per_unit=sight.rows[judged] @ directions,
        tolerance=sight.tolerance[judged],
        spread=sight.spread[judged],
        doubt=doubt[judged],
        keep=np.where((sight.inside | first)[judged], KEEP_WEIGHT, 1.0),
        edges=room.of(judged),
        floors=floors,
    )


def _floors(now: Estimate, strength: str | None, directions: Array) -> Floors:
    """Return what keeps every note clear at `strength`: of each note, the crown nearest to being touched."""
    if strength is None:
        return Floors(np.zeros(0), np.zeros((0, directions.shape[1])))
    from breakangle.planning.buzz.no_buzz import floors

    found = floors(now.picture, played(now.board.instrument), strength, within_mm=FLOOR_REACH_MM)
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
