"""What the work since a reading has done to its place: moved it or not, and how surely."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.target_state import place_read
from breakangle.planning.kinds.registry import adjustment_kind, reading_kind

Array = NDArray[np.float64]
SURE_SPREADS = 2.0  # 19 times in 20; derived


@dataclass(frozen=True)
class Moved:
    """How far work has moved a reading's place, in the reading's unit, with what that is uncertain by."""

    by: float
    spread: float

    def at_all(self, finest: float) -> bool:
        """Return whether the reading no longer stands: moved, or made uncertain, by as much as its last digit shows."""
        return abs(self.by) > finest or self.spread > finest

    def surely_up(self, size: float) -> bool:
        """Return whether it has surely been raised by more than `size`."""
        return self.by - SURE_SPREADS * self.spread > size

    def surely_down(self, size: float) -> bool:
        """Return whether it has surely been lowered by more than `size`."""
        return -self.by - SURE_SPREADS * self.spread > size


@dataclass(frozen=True)
class Worked:
    """The work of a service seen from its end: what it has done to each place since it was read."""

    service: Service
    now: Estimate

    @cached_property
    def _since(self) -> tuple[Array, Array]:
        """Return what the work from step k on has added to the state, and its variance: (K + 1, N) each."""
        picture, work = self.now.picture, self.service.work
        moved, variance = (
            np.zeros((len(work) + 1, picture.layout.size)),
            np.zeros((len(work) + 1, picture.layout.size)),
        )
        for place in range(len(work) - 1, -1, -1):
            added, doubt = _effect(work[place], self.now)
            moved[place], variance[place] = moved[place + 1] + added, variance[place + 1] + doubt
        return moved, variance

    def since(self, reading: Reading) -> Moved:
        """Return how far the work after `reading` was taken has moved what it reads."""
        if reading.after >= len(self.service.work):
            return Moved(0.0, 0.0)
        row = reading_kind(reading).predict([reading], self.now.picture).rows[0]
        moved, variance = self._since
        return Moved(float(row @ moved[reading.after]), float(np.sqrt(row**2 @ variance[reading.after])))


def _effect(adjustment: Adjustment, now: Estimate) -> tuple[Array, Array]:
    effect = adjustment_kind(adjustment).effect(adjustment, now.picture)
    # Tuning back to pitch moves no height that a gauge could tell; pitches are read against the open string.
    added = effect.mean - now.picture.mean
    added[now.picture.layout["pitch"]] = 0.0
    doubt = np.array(effect.variance)
    doubt[now.picture.layout["pitch"]] = 0.0
    return added, doubt


def last_readings(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Return the last reading of each place, in the order the places were first read."""
    found: dict[tuple[str, str], Reading] = {}
    for one in readings:
        place = place_read(one)
        before = found.get(place)
        if before is None or one.after >= before.after:
            found[place] = one
    return tuple(found.values())
