"""The targets as they stand in a state: how far off each is, how sure that is, and whether it can be judged."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading, Target
from breakangle.model.words.speech import spoken_language
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.known_enough import known_enough
from breakangle.planning.kinds.registry import reading_kind, target_kind, target_kinds

Array = NDArray[np.float64]


Place = tuple[str, str]
"""What is read, and where, in words."""


def place_read(reading: Reading) -> Place:
    """Return what was read, and where: two readings of one place are one figure, read twice."""
    return _place_read(reading, spoken_language())


@lru_cache(maxsize=512)  # of a few instruments: no other's readings are the same
def _place_read(reading: Reading, language: str) -> Place:
    del language  # a place is named in words
    return reading.quantity, reading_kind(reading).place(reading)


def place_of(target: Target) -> Place:
    """Return the place of the reading that shows the target."""
    return _place_of(target, spoken_language())


@lru_cache(maxsize=1024)
def _place_of(target: Target, language: str) -> Place:
    del language
    kind = target_kind(target)
    return place_read(kind.as_reading(target, kind.wanted(target), kind.tolerance(target)))


@dataclass(frozen=True)
class Sight:
    """Targets (T,) in one state: value, off = value - wanted, tolerance, spread, rows (T, N), judged."""

    targets: tuple[Target, ...]
    value: Array
    off: Array
    tolerance: Array
    spread: Array
    rows: Array
    judged: NDArray[np.bool_]

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Return which targets are inside their tolerance, as far as is known."""
        return np.abs(self.off) <= self.tolerance + 1e-9

    @cached_property
    def places(self) -> tuple[Place, ...]:
        """Return where each target is read, to find its readings by."""
        return tuple(place_of(one) for one in self.targets)

    @cached_property
    def _readings(self) -> dict[int, Reading]:
        return {}

    def reading(self, index: int) -> Reading:
        """Return target `index` as the reading it would give."""
        if index not in self._readings:
            target, value, spread = self.targets[index], float(self.value[index]), float(self.spread[index])
            self._readings[index] = target_kind(target).as_reading(target, value, spread)
        return self._readings[index]


def sight_of(now: Estimate, targets: Sequence[Target]) -> Sight:
    """Return the targets as they stand in the state `now`, as wide as doubtful readings leave them."""
    now = now.weighed
    picture = now.picture
    count = len(targets)
    value, rows, left_out = np.zeros(count), np.zeros((count, picture.layout.size)), np.zeros(count)
    for name, kind in target_kinds().items():
        places = [index for index, one in enumerate(targets) if one.quantity == name]
        if places:
            found = kind.predict([targets[index] for index in places], picture)
            value[places], rows[places], left_out[places] = found.values, found.rows, found.left_out
    wanted = np.array([target_kind(one).wanted(one) for one in targets])
    tolerance = np.array([target_kind(one).tolerance(one) for one in targets])
    spread, off = np.hypot(now.belief.spread(rows), left_out), value - wanted
    return Sight(
        targets=tuple(targets),
        value=value,
        off=off,
        tolerance=tolerance,
        spread=spread,
        rows=rows,
        judged=known_enough(off, tolerance, spread),
    )


def aimed(now: Estimate, targets: Sequence[Target], seen: Sight | None = None) -> Sight:
    """Return the targets in the state `now` as work on them is reckoned: judged and known as they stand.

    Of a neck bent back, off and rows are those of the neck: no gauge shows how far it is, and the rod has to. `seen`
    are the targets as they stand, where that is at hand.
    """
    seen = sight_of(now, targets) if seen is None else seen
    off, rows = seen.off.copy(), seen.rows.copy()
    apart: dict[Any, list[int]] = defaultdict(list)
    for place, target in enumerate(targets):
        apart[target_kind(target).aimed(target)].append(place)
    apart.pop(None, None)
    for predict, places in apart.items():
        found = predict([targets[place] for place in places], now.picture)
        off[places] += found.values - seen.value[places]
        rows[places] = found.rows
    return replace(seen, off=off, rows=rows)
