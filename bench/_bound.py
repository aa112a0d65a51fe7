"""What no planner can better: a reader who knows the instrument and its adjusters perfectly, but reads by gauges.

Every height, slot and pitch has an adjuster of its own that moves nothing else, exactly as far as is wished: the only
question left is which to touch, and all there is to go by is one reading of each. Touched are those that read farther
off than a share of their tolerance; the share is varied.
"""

from dataclasses import dataclass

import numpy as np

from bench._instruments import arrival
from bench._maker import ACTION_GAUGE, EAR_GAUGE, NUT_GAUGE, truth
from breakangle.model.reading import Target
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.kinds.targets.gap import is_relief, trade_name
from breakangle.planning.state.board import board_of

SHARES = np.arange(0.5, 1.001, 0.025)
READ_TIMES = 20  # over, each with a noise of its own
RIGHT_SHARE = 0.95


@dataclass(frozen=True)
class Trade:
    """Of instruments, by the share of tolerance past which a figure is worked on: come right, and one more at most."""

    right: np.ndarray
    few: np.ndarray

    def best(self) -> tuple[float, float]:
        """Return the most that touch one more than the truth asks for, or fewer, where enough come right; and those."""
        enough = np.flatnonzero(self.right >= RIGHT_SHARE)
        place = max(enough, key=lambda index: float(self.few[index]))
        return float(self.few[place]), float(self.right[place])


def _gauge(target: Target) -> tuple[float, float, float]:
    if target.quantity != "gap":
        return EAR_GAUGE
    return NUT_GAUGE if trade_name(target) == "nut clearance" else ACTION_GAUGE  # type: ignore[arg-type]


def _one(off: np.ndarray, tolerance: np.ndarray, gauges: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return whether it comes right and whether few were touched, for every share, (2, shares)."""
    noise, step = gauges[:, 0], gauges[:, 1]
    read = np.round((off + rng.normal(0.0, noise)) / step) * step
    touched = np.abs(read) > SHARES[:, None] * tolerance
    right = np.all(touched | (np.abs(off) <= tolerance), axis=1)
    few = touched.sum(axis=1) - np.sum(np.abs(off) > tolerance) <= 1
    return np.stack([right, few])


def reader_bound(kind: str, count: int) -> Trade:
    """Return how often such a reader brings all inside, and how often with at most one adjuster too many."""
    rng = np.random.default_rng(0)
    found = []
    for seed in range(count):
        one = arrival(kind, seed, None)
        targets = house_targets(board_of(one.instrument), "medium")
        off, tolerance = truth(one, targets)
        own = [index for index, target in enumerate(targets) if not is_relief(target)]
        gauges = np.array([_gauge(targets[index]) for index in own])
        found += [_one(off[own], tolerance[own], gauges, rng) for _ in range(READ_TIMES)]
    right, few = np.mean(found, axis=0)
    return Trade(right, few)
