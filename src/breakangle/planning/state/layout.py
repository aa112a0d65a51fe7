"""The state as one vector: which unknown stands where."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.neck.bend import SHAPE_COUNT

Indices = NDArray[np.intp]
FINGER_COUNT = 2  # where the finger presses, and how deep; chosen
PLAY_COUNT = 2  # a rod's slack that is ahead, and all of it; chosen
OWN_CROWNS = 5  # crowns of each string with a part of their own: those under the routine's figures; chosen


@dataclass(frozen=True)
class Layout:
    """Places of the unknowns of an instrument with this many strings and frets.

    neck: amplitudes (mm) of the three bending shapes. twist: even bending that differs from edge to edge
    (mm at the treble edge, minus that at the bass). fall: slope of the board past the joint (mm per mm).
    crown, crown_tilt: each crown's error (mm) in the middle, and its slope from edge to edge. crown_own: what a
    crown under a routine's figure has of its own (mm), string by string. nut_height,
    saddle_height: the string's underside over the board line there (mm). saddle_setback, nut_setback (mm).
    log_axial, log_stiffness: logarithm of the true over the tables' stiffness. pitch: the open string from
    its note (cents). finger: one over how far behind its fret the hand presses (1/mm), which what it stretches goes
    by, and how far below the crown (mm). rod: neck amplitudes per turn (mm).
    saddle_response: true over nominal movement of a height screw. load: neck amplitude per newton (mm/N).
    rod_play: how far the rod's nut turns before it tightens, and all the slack there is (turns).
    """

    strings: int
    frets: int

    @cached_property
    def blocks(self) -> dict[str, Indices]:
        """Return the places of every block, by name."""
        one, each_fret, each_string = 1, self.frets, self.strings
        sizes = {
            "neck": SHAPE_COUNT,
            "twist": one,
            "fall": one,
            "crown": each_fret,
            "crown_tilt": each_fret,
            "crown_own": OWN_CROWNS * each_string,
            "nut_height": each_string,
            "saddle_height": each_string,
            "saddle_setback": each_string,
            "nut_setback": each_string,
            "log_axial": each_string,
            "log_stiffness": each_string,
            "pitch": each_string,
            "finger": FINGER_COUNT,
            "rod": SHAPE_COUNT,
            "saddle_response": one,
            "load": one,
            "rod_play": PLAY_COUNT,
        }
        ends = np.cumsum(list(sizes.values()))
        return {
            name: np.arange(end - size, end) for (name, size), end in zip(sizes.items(), ends, strict=True)
        }

    def __getitem__(self, block: str) -> Indices:
        """Return the places of one block."""
        return self.blocks[block]

    @cached_property
    def size(self) -> int:
        """Return the length of the state."""
        return sum(len(places) for places in self.blocks.values())


@lru_cache(maxsize=64)
def layout_of(strings: int, frets: int) -> Layout:
    """Return the layout for so many strings and frets: one object, so that its places are worked out once."""
    return Layout(strings, frets)


@dataclass(frozen=True)
class CrownsKnown:
    """What crown readings tell beside the state: arrays over strings and frets (S, F).

    `rough_share`: how probable it is that the board is a rough one. `own_mm`, `own_spread_mm`: each crown's own part
    that the state leaves out, NaN in the spread where it was not read. `own_gain`: by how much that part is less for
    each mm that the line under it, shared by all strings, is higher. `read` (F,): frets with a crown read.
    """

    rough_share: float
    own_mm: NDArray[np.float64]
    own_spread_mm: NDArray[np.float64]
    own_gain: NDArray[np.float64]
    read: NDArray[np.bool_]


@dataclass(frozen=True)
class Belief:
    """What is believed of a state: mean (N,) and covariance (N, N); `seen_before`: by an earlier visit of its own.

    `crowns`: what reading crowns has told beside it, None where nobody read any. `end_read`: gaps were read past the
    joint, so that it has in it how the board's end lies.
    """

    mean: NDArray[np.float64]
    covariance: NDArray[np.float64]
    seen_before: bool = False
    crowns: CrownsKnown | None = None
    end_read: bool = False

    def spread(self, rows: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the standard uncertainty of each row's combination of the state, shape of rows[..., 0]."""
        variance = np.sum((rows @ self.covariance) * rows, axis=-1)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))
