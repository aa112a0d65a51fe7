"""Every stopped note clear of every crown beyond it, as linear conditions on metal, relief, nut and saddles.

The unknowns stand in one vector: metal off every crown (S·F), change of relief, nut moves (S), saddle moves (S), all
in mm. Source: the string between stop and saddle is a straight line, so its gaps are linear in them [derived].
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix

from breakangle.planning.levelling.heights import LEAST_WEIGHT, Heights

Array = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Conditions:
    """Gaps (M,) of every note over every crown beyond its stop, as the heights stand, and what each needs.

    `string` counts from 0, `stop` and `crown` are points (0: the nut). `share`: the saddle's share of the line over the
    crown. `need_mm`: how far the string swings down there.
    """

    heights: Heights
    string: Indices
    stop: Indices
    crown: Indices
    share: Array
    gap_mm: Array
    need_mm: Array

    @property
    def size(self) -> int:
        """Return how many unknowns there are."""
        strings, frets = self.heights.string_count, self.heights.fret_count
        return strings * frets + 1 + 2 * strings

    @property
    def relief_place(self) -> int:
        """Return where the change of relief stands among the unknowns."""
        return self.heights.string_count * self.heights.fret_count

    def metal_place(self, string: Indices, crown: Indices) -> Indices:
        """Return where the metal off each crown stands among the unknowns."""
        return np.asarray(string * self.heights.fret_count + crown - 1)

    @cached_property
    def rows(self) -> csr_matrix:
        """Return d gap / d unknowns, shape (M, size)."""
        one, count = self.heights, len(self.gap_mm)
        each, rest = np.arange(count), 1.0 - self.share
        stopped = self.stop > one.first[self.string]
        open_ = ~stopped
        nut = self.relief_place + 1 + self.string
        bent = rest * one.bend_mm[self.string, self.stop] - one.bend_mm[self.string, self.crown]
        row = [each[stopped], each, each, each[open_], each]
        column = [
            self.metal_place(self.string, self.stop)[stopped],
            self.metal_place(self.string, self.crown),
            np.full(count, self.relief_place),
            nut[open_],
            nut + one.string_count,
        ]
        value = [-rest[stopped], np.ones(count), bent, rest[open_], self.share]
        places = (np.concatenate(row), np.concatenate(column))
        return coo_matrix((np.concatenate(value), places), shape=(count, self.size)).tocsr()

    @cached_property
    def error_rows(self) -> Array:
        """Return d gap / d (error of each crown of its string), shape (M, F), nut and saddle set by their readings.

        A person sets action and nut clearance by what they read, so an error of the crowns that are held or read for
        them moves saddle and nut with it.
        """
        one, count = self.heights, len(self.gap_mm)
        each, string = np.arange(count), self.string
        last = np.full(one.string_count, one.fret_count + 1)
        found = np.zeros((count, one.fret_count + 2))
        # saddle = (action + crown read − (1 − w) stop held) / w
        w = np.maximum(one.share(one.action_stop, one.action_crown, last), LEAST_WEIGHT)[string]
        found[each, one.action_crown[string]] += self.share / w
        found[each, one.action_stop[string]] -= self.share * (1.0 - w) / w
        # nut = (clearance + first crown − v · crown held) / (1 − v)
        v = one.share(one.first, one.first + 1, one.nut_held)[string]
        open_ = self.stop == one.first[string]
        by_nut = np.where(open_, (1.0 - self.share) / np.maximum(1.0 - v, LEAST_WEIGHT), 0.0)
        found[each, one.first[string] + 1] += by_nut
        found[each, one.nut_held[string]] -= by_nut * v
        found[each, self.stop] += np.where(open_, 0.0, 1.0 - self.share)
        found[each, self.crown] -= 1.0
        return found[:, 1:-1]

    @cached_property
    def set_rows(self) -> Array:
        """Return d gap / d (action as set, nut clearance as set) of its string, shape (M, 2)."""
        one, string = self.heights, self.string
        last = np.full(one.string_count, one.fret_count + 1)
        w = np.maximum(one.share(one.action_stop, one.action_crown, last), LEAST_WEIGHT)[string]
        v = one.share(one.first, one.first + 1, one.nut_held)[string]
        open_ = self.stop == one.first[string]
        by_nut = np.where(open_, (1.0 - self.share) / np.maximum(1.0 - v, LEAST_WEIGHT), 0.0)
        return np.stack([self.share / w, by_nut], axis=1)

    def spread_mm(self, set_spread_mm: tuple[float, float]) -> Array:
        """Return one standard deviation of every gap once it is set up, mm, shape (M,)."""
        frets = self.heights.fret_count
        variance = (self.set_rows**2) @ np.square(set_spread_mm)
        for string in range(self.heights.string_count):
            own, here = self.string == string, slice(string * frets, (string + 1) * frets)
            rows = self.error_rows[own]
            variance[own] += np.sum((rows @ self.heights.covariance[here, here]) * rows, axis=1)
        return np.sqrt(np.maximum(variance, 0.0))


def conditions_of(heights: Heights, swing_mm: Array) -> Conditions:
    """Return the conditions of every string at every stop; `swing_mm` (S, F + 1, F): by string, stop and crown.

    A swing that is NaN has no crown there; a stop before a string's own nut is none.
    """
    strings, frets = heights.string_count, heights.fret_count
    string, stop, crown = np.meshgrid(
        np.arange(strings), np.arange(frets + 1), np.arange(1, frets + 1), indexing="ij"
    )
    there = (crown > stop) & (stop >= heights.first[string]) & np.isfinite(swing_mm)
    string, stop, crown, need = string[there], stop[there], crown[there], swing_mm[there]
    x, y = heights.along_mm, heights.height_mm
    share = (x[string, crown] - x[string, stop]) / (x[string, -1] - x[string, stop])
    gap = (1.0 - share) * y[string, stop] + share * y[string, -1] - y[string, crown]
    return Conditions(heights, string, stop, crown, share, gap, need)
