"""A possible cause of what is read: a direction in the state, how large it usually is, and how often it is met."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading
from breakangle.planning.state.layout import Layout

Array = NDArray[np.float64]
# What only readings at certain frets can tell from other things is hardly believed without them.
UNSEEN_SHARE = 0.05  # common practice, no source
READ_FOR_A_REASON = 0.4  # a crown is read where something points at it; common practice, no source


@dataclass(frozen=True, eq=False)
class Cause:
    """One possible cause: `pattern` is its pattern's key, empty where it is only a place unlike its kind.

    `direction` (N,): the change of state by one unit of it; `spread`: how large it is, one standard deviation;
    `probability`: how often it is met. `strings`, `frets`: where.
    """

    pattern: str
    direction: Array
    spread: float
    probability: float
    strings: tuple[int, ...] = ()
    frets: tuple[int, ...] = ()
    part: str = ""
    # On which side of zero it can be: 1 above, 0 either.
    side: int = 0
    # Frets of which one has to be read for it to be told from other things; none for most.
    seen_at: frozenset[int] = frozenset()


@dataclass(frozen=True, eq=False)
class Causes:
    """All causes that an instrument may have, as arrays: directions (N, C), spread (C,), log odds (C,)."""

    all: tuple[Cause, ...]

    @cached_property
    def directions(self) -> Array:
        """Return every cause's direction, (N, C)."""
        return np.stack([one.direction for one in self.all], axis=1)

    @cached_property
    def seen_somewhere(self) -> tuple[Cause, ...]:
        """Return the causes that only readings at certain frets can tell from other things."""
        return tuple(one for one in self.all if one.seen_at)

    @cached_property
    def spread(self) -> Array:
        """Return every cause's usual size, (C,)."""
        return np.array([one.spread for one in self.all])

    @cached_property
    def side(self) -> Array:
        """Return on which side of zero every cause can be, (C,)."""
        return np.array([float(one.side) for one in self.all])

    @cached_property
    def log_odds(self) -> Array:
        """Return the logarithm of every cause's odds before anything is read, (C,)."""
        probability = np.array([one.probability for one in self.all])
        return np.asarray(np.log(probability / (1.0 - probability)))

    def odds_where_read(self, readings: Sequence[Reading]) -> Array:
        """Return the log odds with what was read: a crown somebody put a gauge on, a place nobody looked at."""
        found = self.log_odds.copy()
        touched = {one.fret for one in readings if one.quantity == "crown"}
        seen = touched | {one.fret for one in readings if one.quantity == "gap"}
        for place in self.of_pattern.get("high-fret", ()) if touched else ():
            if touched & set(self.all[place].frets):
                found[place] = np.log(READ_FOR_A_REASON / (1.0 - READ_FOR_A_REASON))
        for place, one in enumerate(self.all):
            if one.seen_at and not seen & one.seen_at:
                found[place] += np.log(UNSEEN_SHARE)
        return found

    @cached_property
    def of_pattern(self) -> dict[str, tuple[int, ...]]:
        """Return the places of each pattern's causes."""
        found: dict[str, list[int]] = {}
        for place, one in enumerate(self.all):
            found.setdefault(one.pattern, []).append(place)
        return {name: tuple(places) for name, places in found.items()}


# Where nothing else is said below: common practice, no source.
# Each place alone may be unlike its kind and its neighbours: so many are, and so far, one standard deviation, in the
# block's own unit. Common practice, no source.
ODD_PROBABILITY = 0.06
ODD_SPREAD = {
    "neck": 0.3,
    "nut_height": 0.3,
    "saddle_height": 1.0,
    "saddle_setback": 2.5,
    "pitch": 20.0,
    "nut_setback": 0.4,
}


def odd_places(layout: Layout) -> Sequence[Cause]:
    """Return a cause for each unknown that is read by few readings: an instrument may be unlike its kind there."""
    found = []
    for block, spread in ODD_SPREAD.items():
        for place in layout[block].tolist():
            direction = np.zeros(layout.size)
            direction[place] = 1.0
            found.append(Cause("", direction, spread, ODD_PROBABILITY))
    return found
