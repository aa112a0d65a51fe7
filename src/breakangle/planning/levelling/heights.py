"""What levelling works on: heights of nut, crowns and saddle under every string, and how surely each is known."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
OCTAVE, NUT_HELD = (
    12,
    3,
)  # action is read an octave up, nut clearance with the third fret held; common practice
LEAST_WEIGHT = 1e-6  # derived: keeps a division finite, nothing of an instrument


@dataclass(frozen=True, eq=False)
class Heights:
    """Heights under S strings of F frets, in the body's frame, mm, up positive; points are nut, crowns, saddle.

    `along_mm`, `height_mm` (S, F + 2). `bend_mm` (S, F + 2): what one mm more of relief does to each. `first` (S,): the
    point that is the string's nut. `joint`: the fret at the body. `relief_mm`: the neck's own, crowns left out.
    `covariance` (S·F, S·F): of the crowns, mm², string by string; zeros where they are known exactly.
    """

    along_mm: Array
    height_mm: Array
    bend_mm: Array
    first: Indices
    joint: int
    relief_mm: float
    covariance: Array

    @property
    def string_count(self) -> int:
        """Return how many strings there are."""
        return len(self.first)

    @property
    def fret_count(self) -> int:
        """Return how many frets there are."""
        return int(self.along_mm.shape[1]) - 2

    @property
    def action_stop(self) -> Indices:
        """Return the fret held where each string's action is read: the first past its nut, shape (S,)."""
        return np.asarray(self.first + 1)

    @property
    def action_crown(self) -> Indices:
        """Return the fret each string's action is read at, shape (S,)."""
        return np.minimum(self.first + OCTAVE, self.fret_count)

    @property
    def nut_held(self) -> Indices:
        """Return the fret held where each string's nut clearance is read, shape (S,)."""
        return np.minimum(self.first + NUT_HELD, self.fret_count)

    def share(self, left: Indices, at: Indices, right: Indices) -> Array:
        """Return how much of a straight line's height at `at` is its right end's, shape (S,)."""
        each, x = np.arange(self.string_count), self.along_mm
        return np.asarray((x[each, at] - x[each, left]) / (x[each, right] - x[each, left]))

    def action_mm(self) -> Array:
        """Return each string's gap over its octave fret, the first fret held, straight, shape (S,)."""
        each, last = np.arange(self.string_count), np.full(self.string_count, self.fret_count + 1)
        w = self.share(self.action_stop, self.action_crown, last)
        y = self.height_mm
        line = (1.0 - w) * y[each, self.action_stop] + w * y[:, -1]
        return np.asarray(line - y[each, self.action_crown])

    def nut_mm(self) -> Array:
        """Return each string's gap over its first crown, the third held, straight, shape (S,)."""
        each, y = np.arange(self.string_count), self.height_mm
        w = self.share(self.first, self.first + 1, self.nut_held)
        line = (1.0 - w) * y[each, self.first] + w * y[each, self.nut_held]
        return np.asarray(line - y[each, self.first + 1])

    def cut(self, off_mm: Array) -> "Heights":
        """Return the heights with `off_mm` (S, F) taken off the crowns."""
        height = self.height_mm.copy()
        height[:, 1:-1] -= off_mm
        return replace(self, height_mm=height)

    def set_up(self, relief_mm: float, nut_move_mm: Array, saddle_move_mm: Array) -> "Heights":
        """Return the heights at another relief, with nut and saddle moved, mm (S,)."""
        height = self.height_mm + (relief_mm - self.relief_mm) * self.bend_mm
        height[np.arange(self.string_count), self.first] += nut_move_mm
        height[:, -1] += saddle_move_mm
        return replace(self, height_mm=height, relief_mm=relief_mm)
