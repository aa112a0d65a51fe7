"""The least metal that makes a set-up clean: a linear programme over metal, relief, nut and saddles.

Source: [derived]; solved by HiGHS, J. A. J. Hall and others, in scipy's `linprog`.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_matrix, csr_matrix, hstack, vstack

from breakangle.planning.levelling.conditions import Conditions

Array = NDArray[np.float64]
# Chosen: bounds of what is looked for, and what breaks ties (against one mm of metal).
FURTHEST_MM, HIGHEST_MM = 20.0, 10.0
TIE_RATIO = 1e-5  # chosen
NEXT_CROWNS, NEAR_MM, BROKEN_MM = 2, 0.03, 1e-8  # chosen: which conditions are looked at first
EASED_MM, EASED_RATIO = 1e-5, 0.98  # chosen: what rounding must not make impossible again


@dataclass(frozen=True)
class Wanted:
    """What is asked of the set-up, mm: action and nut clearance at most (S,), relief between `relief_mm`.

    `room_mm` (S, F): the most that may come off each crown. `nut_fixed`: a zero fret, which only metal lowers.
    `margin_mm` is kept over every crown, and `spreads` times what is not known of it besides.
    """

    action_mm: Array
    nut_mm: Array
    relief_mm: tuple[float, float]
    room_mm: Array
    margin_mm: float
    spreads: float
    nut_fixed: bool = False


@dataclass(frozen=True)
class LeastMetal:
    """Metal off (S, F), moves of relief, nut and saddles (S,), mm; `spreads` that the plan is sure by.

    `over_mm`: by how much the action must be higher than asked to be clean at all; zero where metal alone does it.
    """

    off_mm: Array
    relief_change_mm: float
    nut_move_mm: Array
    saddle_move_mm: Array
    spreads: float
    over_mm: float


def least_metal(conditions: Conditions, wanted: Wanted, spread_mm: Array) -> LeastMetal:
    """Return the plan with the least metal; where none is as sure as wanted, the surest; where none is clean, told so.

    `spread_mm` (M,): one standard deviation of each condition's gap.
    """
    programme = _Programme(conditions, wanted, spread_mm)
    found = programme.solved(wanted.spreads, 0.0)
    if found is not None:
        return programme.told(found, wanted.spreads, 0.0)
    over = programme.least_over(0.0)
    if over > 0.0:
        over += EASED_MM
        sure = 0.0
    else:
        sure = EASED_RATIO * programme.most_spreads(wanted.spreads)
    found = programme.solved(sure, over)
    if found is None:
        raise AssertionError("a programme that was just solved has a solution")
    return programme.told(found, sure, over)


def over_to_be_sure_mm(conditions: Conditions, wanted: Wanted, spread_mm: Array) -> float:
    """Return by how much every action must be higher than asked for a plan as sure as wanted, mm."""
    return _Programme(conditions, wanted, spread_mm).least_over(wanted.spreads)


class _Programme:
    """The programme's matrices, made once; what is varied is how sure, and how much higher than asked."""

    def __init__(self, conditions: Conditions, wanted: Wanted, spread_mm: Array) -> None:
        self.conditions, self.wanted, self.spread_mm = conditions, wanted, spread_mm
        heights = conditions.heights
        strings, frets = heights.string_count, heights.fret_count
        self.metal, self.nut = strings * frets, strings * frets + 1
        self.saddle, self.size = self.nut + strings, conditions.size
        self.limits, self.room = self._limits()
        self.rows: Any = vstack([-conditions.rows, self.limits], format="csr")
        self.clear = conditions.gap_mm - conditions.need_mm - wanted.margin_mm
        limits = np.ones(2 * strings, dtype=bool)
        near = (conditions.crown - conditions.stop <= NEXT_CROWNS) | (self.clear < NEAR_MM)
        self.near = np.concatenate([near, limits])
        self.cost = np.concatenate([np.ones(self.metal), np.zeros(1), np.full(2 * strings, -TIE_RATIO)])
        ends = [(0.0, float(one)) for one in self._reachable(wanted.room_mm).ravel()]
        low, high = (one - heights.relief_mm for one in wanted.relief_mm)
        nut = (-FURTHEST_MM, 0.0) if wanted.nut_fixed else (-FURTHEST_MM, FURTHEST_MM)
        self.bounds = [
            *ends, (low, high), *[nut] * strings, *[(-FURTHEST_MM, FURTHEST_MM)] * strings
        ]  # fmt: skip

    def _reachable(self, room_mm: Array) -> Array:
        """Return the room, none on crowns that lie before a string's own nut."""
        heights = self.conditions.heights
        before = np.arange(1, heights.fret_count + 1)[None, :] <= heights.first[:, None]
        return np.where(before, 0.0, np.maximum(room_mm, 0.0))

    def _limits(self) -> tuple[csr_matrix, Array]:
        """Return rows of action and nut clearance over the unknowns, (2 S, size), and what is left to each limit."""
        one, c = self.conditions.heights, self.conditions
        each = np.arange(one.string_count)
        last = np.full(one.string_count, one.fret_count + 1)
        w = one.share(one.action_stop, one.action_crown, last)
        v = one.share(one.first, one.first + 1, one.nut_held)
        row: list[Any] = []
        column: list[Any] = []
        value: list[Any] = []

        def add(at: int, where: NDArray[np.intp], what: Array) -> None:
            row.append(at + each)
            column.append(where)
            value.append(what)

        bent = np.full(one.string_count, c.relief_place)
        add(0, c.metal_place(each, one.action_stop), -(1.0 - w))
        add(0, c.metal_place(each, one.action_crown), np.ones_like(w))
        add(0, self.saddle + each, w)
        y = one.bend_mm
        add(0, bent, (1.0 - w) * y[each, one.action_stop] - y[each, one.action_crown])
        strings = one.string_count
        add(strings, self.nut + each, 1.0 - v)
        add(strings, c.metal_place(each, one.nut_held), -v)
        add(strings, c.metal_place(each, one.first + 1), np.ones_like(v))
        slack = (1.0 - v) * y[each, one.first] + v * y[each, one.nut_held] - y[each, one.first + 1]
        add(strings, bent, slack)
        places = (np.concatenate(row), np.concatenate(column))
        rows = coo_matrix((np.concatenate(value), places), shape=(2 * strings, self.size)).tocsr()
        return rows, np.concatenate(
            [self.wanted.action_mm - one.action_mm(), self.wanted.nut_mm - one.nut_mm()]
        )

    def _right(self, spreads: float, over_mm: float) -> Array:
        room = self.room.copy()
        room[: self.conditions.heights.string_count] += over_mm
        return np.concatenate([self.clear - spreads * self.spread_mm, room])

    def solved(self, spreads: float, over_mm: float) -> Array | None:
        """Return the unknowns of the least metal, or None where nothing is clean so."""
        return self._least(self.cost, self.rows, self._right(spreads, over_mm), self.bounds)

    def _least(self, cost: Array, rows: Any, right: Array, bounds: Any) -> Array | None:
        """Return what makes `cost` least, or None; conditions that do not bind are left out until they are broken."""
        kept = self.near.copy()
        while True:
            found = linprog(cost, A_ub=rows[kept], b_ub=right[kept], bounds=bounds, method="highs")
            if not found.success:
                return None
            point = np.asarray(found.x)
            broken = (rows @ point > right + BROKEN_MM) & ~kept
            if not broken.any():
                return point
            kept |= broken

    def _widened(self, column: Array, most: float, spreads: float) -> float:
        """Return the least of one more unknown from 0 to `most` that makes a plan there is; `column` are its rows."""
        cost = np.append(np.zeros(self.size), 1.0)
        rows: Any = hstack([self.rows, csr_matrix(column[:, None])], format="csr")
        found = self._least(cost, rows, self._right(spreads, 0.0), [*self.bounds, (0.0, most)])
        return most if found is None else float(found[-1])

    def least_over(self, spreads: float) -> float:
        """Return by how much every action must be higher than asked for a plan to exist that is so sure, mm."""
        strings, count = self.conditions.heights.string_count, len(self.clear)
        column = np.concatenate([np.zeros(count), -np.ones(strings), np.zeros(strings)])
        return self._widened(column, HIGHEST_MM, spreads)

    def most_spreads(self, wanted: float) -> float:
        """Return how many spreads the surest plan is sure by, at most `wanted`."""
        strings = self.conditions.heights.string_count
        column = np.concatenate([-self.spread_mm, np.zeros(2 * strings)])
        return wanted - self._widened(column, wanted, wanted)

    def told(self, found: Array, spreads: float, over_mm: float) -> LeastMetal:
        """Return the unknowns by what they are."""
        one = self.conditions.heights
        off = found[: self.metal].reshape(one.string_count, one.fret_count)
        nut, saddle = found[self.nut : self.saddle], found[self.saddle :]
        return LeastMetal(off, float(found[self.metal]), nut, saddle, spreads, over_mm)
