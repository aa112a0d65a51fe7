"""A neck as a beam: clamped in its heel, thickening to a volute at the head, bent by strings, by a rod and by itself.

Places run along u from the nut (0) to the heel (1). The bending moments are divided by the stiffness of each place and
integrated twice, from the heel outward.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.reference.families import Family

Array = NDArray[np.float64]
STATIONS = 321
U = np.linspace(0.0, 1.0, STATIONS)
# Where the family has no such rod, strings and wood alone bend the neck.
ROD_SPREAD_RATIO = (
    0.30  # rods of one family differ by so much, one standard deviation; common practice, no source
)


def sagged(curvature: Array) -> Array:
    """Return the heights of a beam with this curvature over u (positive: bends the nut end up), flat at the heel."""
    step = U[1] - U[0]
    back = curvature[::-1]
    slope = np.concatenate([[0.0], np.cumsum((back[1:] + back[:-1]) / 2.0)]) * step
    height = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) / 2.0)]) * step
    return np.asarray(height[::-1])


@dataclass
class Neck:
    """Shapes in mm over u. `load` is scaled to a relief of 1 mm, `rod` to what a whole turn does."""

    load: Array
    wood: Array
    rod: Array
    torsion: Array
    slack_turns: float
    stiffening_ratio: float
    one_way: bool
    nut_turns: float = 0.0  # what the maker has turned, in all
    seat_turns: float = 0.0  # what of it has reached the rod: it lags by the slack
    least_turns: float = -9.0  # where a one-way rod comes loose

    def turn(self, turns: float) -> None:
        """Turn the rod: after a change of direction the first part only takes up the slack."""
        self.nut_turns += turns
        half = self.slack_turns / 2.0
        self.seat_turns = float(np.clip(self.seat_turns, self.nut_turns - half, self.nut_turns + half))

    def rod_turns(self) -> float:
        """Return what works on the wood, in turns from how it came in: a rod pulls harder the tighter it is."""
        works = max(self.seat_turns, self.least_turns) if self.one_way else self.seat_turns
        return works * (1.0 + self.stiffening_ratio * works)

    def heights_mm(self, bow_mm: float) -> Array:
        """Return the board's heights over u at the middle of the board."""
        return bow_mm * self.load + self.wood + self.rod_turns() * self.rod


def relief_of(shape: Array, first: float, middle: float) -> float:
    """Return the relief of a shape between `first` and the heel, read at `middle` (all as shares of the neck)."""
    y = np.interp([first, middle, 1.0], U, shape)
    return float(y[0] + (y[2] - y[0]) * (middle - first) / (1.0 - first) - y[1])


def made_neck(kin: Family, first: float, middle: float, rng: np.random.Generator) -> Neck:
    """Return a neck of the family, with a stiffness, a rod and a growth of its own."""
    taper = 1.0 + rng.uniform(0.08, 0.30) * U
    volute = 1.0 + rng.uniform(0.0, 2.5) * np.exp(-U / rng.uniform(0.02, 0.05))
    heel = 1.0 + rng.uniform(1.0, 6.0) / (1.0 + np.exp(-(U - rng.uniform(0.86, 0.95)) / 0.02))
    stiffness = taper**3 * volute * heel
    # The strings pass above the neutral line by a little more at the body than at the nut.
    load = sagged((1.0 + rng.uniform(-0.1, 0.5) * U) / stiffness)
    start, end = rng.uniform(0.0, 0.08), rng.uniform(0.86, 1.0)
    middle_of_rod = np.clip((U - start) / (end - start), 0.0, 1.0)
    inside = (start < U) & (end > U)
    if rng.random() < 0.5:  # a curved rod: its offset is greatest midway
        offset = 0.25 + 4.0 * middle_of_rod * (1.0 - middle_of_rod)
    else:  # a straight one, a little nearer the back toward the heel
        offset = 1.0 + rng.uniform(0.0, 0.4) * U
    rod = sagged(inside * offset / stiffness)
    grown = sagged(rng.normal(0, 1) * (U - 0.5) + rng.normal(0, 1) * np.sin(3.0 * np.pi * U))
    torsion = (1.0 - U) ** rng.uniform(1.6, 2.4)
    per_turn = 0.0
    if kin.rod is not None:
        per_turn = abs(kin.rod.relief_mm_per_turn.mean) * float(np.exp(rng.normal(0.0, ROD_SPREAD_RATIO)))
    slack = rng.uniform(0.02, 0.09) if per_turn else 0.0
    return Neck(
        load=load / relief_of(load, first, middle),
        wood=grown / max(float(np.abs(grown).max()), 1e-9) * rng.uniform(0.0, 0.12),
        rod=-rod / relief_of(rod, first, middle) * per_turn,
        torsion=torsion / relief_of(torsion, first, middle),
        slack_turns=slack,
        stiffening_ratio=rng.uniform(-0.05, 0.12),
        one_way=kin.rod is None or kin.rod.kind == "single",
        seat_turns=float(rng.choice([-0.5, 0.5])) * slack,
        least_turns=-rng.uniform(0.8, 2.5),
    )
