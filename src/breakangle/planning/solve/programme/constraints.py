"""The programme's constraints: bands, what a touched lever brings with it, cuts, floors, one way at a time."""

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.solve.margins import only_cut
from breakangle.planning.solve.programme.problem import NEGLIGIBLE, Problem, Scaled, inverse, units

Array = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench closed_loop` tells what it costs.
FLOOR_MM = 0.05  # what lacks this much of a floor is as far out as a target by its tolerance
DOUBT_SPREADS = 1.0  # an adjuster is not counted on for more than it surely does


def _band(scaled: Scaled, edge: tuple[Array, Array], slack: Array, margin: Array) -> tuple[Array, Array]:
    """Return the constraints that keep every target inside `edge` (above, below), with its slack (T, 2T).

    `margin` (T, J) is what each unit of a lever takes off the edge.
    """
    blank = np.zeros_like(margin)
    rows = [
        np.hstack([sign * scaled.per_unit + margin, -sign * scaled.per_unit + margin, blank, slack])
        for sign in (1.0, -1.0)
    ]
    return np.vstack(rows), np.concatenate([edge[0] - scaled.off, edge[1] + scaled.off])


def rows_of(
    scaled: Scaled, edge: tuple[Array, Array], ease: Array, margin_spreads: float
) -> tuple[Array, Array]:
    """Return the constraints, rows · x ≤ most: each band from both sides. Variables as in `_solve`.

    With a margin, the second band is only for what a doubtful lever can reach.
    """
    wants = len(ease)
    slack, none = -np.eye(wants), np.zeros((wants, wants))
    kept = margin_spreads * scaled.doubt
    outside, most_outside = _band(scaled, edge, np.hstack([slack, none]), 0.0 * kept)
    uneasy, most_uneasy = _band(scaled, (ease, ease), np.hstack([none, slack]), kept)
    doubtful = (kept > NEGLIGIBLE).any(axis=1) if margin_spreads else np.ones(wants, dtype=bool)
    which = np.tile(doubtful, 2)
    return np.vstack([outside, uneasy[which]]), np.concatenate([most_outside, most_uneasy[which]])


def cut(problem: Problem) -> NDArray[np.bool_]:
    """Return which targets each lever holds that can only cut, (T, J)."""
    return np.asarray(problem.edges.held & only_cut(problem.levers))


def _closer_if_cut(rows: Array, most: Array, problem: Problem) -> tuple[Array, Array]:
    """Return the constraints of the first band, brought closer for each of the target's own cuts that is made.

    Amounts for all other levers are settled with their closer edge afterwards. The new rows imply the plain ones,
    which they replace.
    """
    edges, count = problem.edges, len(problem.levers)
    closer = np.concatenate([edges.left - edges.moved, edges.left - edges.deep]) / np.tile(
        problem.tolerance, 2
    )
    own = np.tile(cut(problem), (2, 1)) & (closer > NEGLIGIBLE)[:, None]
    row, lever = np.nonzero(own)
    tied = rows[row]
    tied[np.arange(len(row)), 2 * count + lever] = closer[row]
    plain = np.ones(len(rows), dtype=bool)
    plain[: len(own)] = ~own.any(axis=1)
    return np.vstack([rows[plain], tied]), np.concatenate([most[plain], most[row]])


def _no_deeper(problem: Problem, scaled: Scaled, wide: int) -> tuple[Array, Array]:
    """Return the constraints, without slack, that cuts take nothing they serve below its lower edge.

    What is below it already is cut no further: nothing puts it back. Of the rest, what the rod surely lifts may be cut.
    """
    only_down = only_cut(problem.levers)
    served = (problem.edges.own & only_down).any(axis=1)
    first = np.array([lever.doubtful for lever in problem.levers], dtype=bool)
    effect, doubt = scaled.per_unit[served], scaled.doubt[served]
    spare = scaled.off[served] + problem.edges.deep[served] / problem.tolerance[served]
    rows, count = np.zeros((len(effect), wide)), len(problem.levers)
    for sign, at in ((1.0, 0), (-1.0, count)):
        lifted = np.where(first & (spare > 0.0)[:, None], sign * effect - DOUBT_SPREADS * doubt, 0.0)
        rows[:, at : at + count] = np.where(only_down, -sign * effect, -np.maximum(lifted, 0.0))
    return rows, np.maximum(spare, 0.0)


def _only_if_touched(scaled: Scaled) -> tuple[Array, Array]:
    """Return the constraints that let a lever move only if it is touched."""
    wants, count = scaled.per_unit.shape
    eye, none, blank = np.eye(count), np.zeros((count, count)), np.zeros((count, 2 * wants))
    up = np.hstack([np.diag(inverse(scaled.high)), none, -eye, blank])
    down = np.hstack([none, np.diag(inverse(-scaled.low)), -eye, blank])
    return np.vstack([up, down]), np.zeros(2 * count)


def _with_floors(problem: Problem, rows: Array, most: Array) -> tuple[Array, Array]:
    """Return the constraints with the floors' own below them, each with a slack of its own, in FLOOR_MM."""
    floors, count = problem.floors, len(problem.levers)
    if not len(floors.lack):
        return rows, most
    gain = floors.per_unit * units(problem.levers) / FLOOR_MM
    gain = np.where(np.abs(gain) < NEGLIGIBLE, 0.0, gain)
    blank = np.zeros((len(floors.lack), rows.shape[1] - 2 * count))
    below = np.hstack([-gain, gain, blank, -np.eye(len(floors.lack))])
    wide = np.hstack([rows, np.zeros((len(rows), len(floors.lack)))])
    return np.vstack([wide, below]), np.concatenate([most, -floors.lack / FLOOR_MM])


def constraints(
    problem: Problem, scaled: Scaled, bands: tuple[Array, Array], choosing: bool
) -> tuple[Array, Array]:
    """Return every constraint, rows · x ≤ most: the bands, what a touched lever brings with it, cuts, floors."""
    rows, most = bands
    if choosing:
        rows, most = _closer_if_cut(rows, most, problem)
        touching, most_touching = _only_if_touched(scaled)
        rows, most = np.vstack([rows, touching]), np.concatenate([most, most_touching])
    no_deeper, most_deep = _no_deeper(problem, scaled, rows.shape[1])
    return _with_floors(problem, np.vstack([rows, no_deeper]), np.concatenate([most, most_deep]))


def one_way(problem: Problem, scaled: Scaled, wide: int) -> tuple[Array, Array]:
    """Return the constraints that let an adjuster only roughly known go up or down, never both, (2 D, wide + D).

    Each has a variable of its own, 1 for up. Going both ways at once would lend cuts a lift that never comes.
    """
    count = len(problem.levers)
    cuts = bool((problem.edges.own & only_cut(problem.levers)).any())
    which = np.flatnonzero([cuts and lever.doubtful for lever in problem.levers])
    up, down = np.zeros((len(which), wide + len(which))), np.zeros((len(which), wide + len(which)))
    at = np.arange(len(which))
    up[at, which], up[at, wide + at] = 1.0, -scaled.high[which]
    down[at, count + which], down[at, wide + at] = 1.0, -scaled.low[which]
    return np.vstack([up, down]), np.concatenate([np.zeros(len(which)), -scaled.low[which]])
