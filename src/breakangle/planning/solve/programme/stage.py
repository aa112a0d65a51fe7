"""One stage of the work in numbers: levers of one turn, the figures they serve, and what moving them costs."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.kinds.kind import Lever
from breakangle.planning.state.expected_minutes import LIKELY_OUT, minutes_left

Array = NDArray[np.float64]


# What reads inside is not cut; what is known well, to this share of its tolerance, is cut from nearer to its edge.
# Common practice, no source.
KNOWN_SHARE, NEAR_EDGE = 0.35, 0.8
IN_ONE_PIECE = "saddle"  # the trip in which all strings' places are in hand together
WORTH_A_TURN = 0.25  # of a tolerance nearer; common practice, no source


def only_out(lever: Lever) -> bool:
    """Return whether `lever` is moved only for a figure that reads outside: a cut, but not a crown's place."""
    return lever.irreversible and lever.least_chance_out > LIKELY_OUT


def reads_out(off: Array, tolerance: Array, spread: Array) -> NDArray[np.bool_]:
    """Return which figures read far enough off to be cut for."""
    edge = np.where(spread <= KNOWN_SHARE * tolerance, NEAR_EDGE, 1.0)
    return np.asarray(np.abs(off) >= edge * tolerance)


@dataclass(frozen=True)
class Stage:
    """The levers (J,) of one stage and the targets (T,) that any of them serves, in numbers."""

    levers: tuple[Lever, ...]
    off: Array
    effect: Array
    own: NDArray[np.bool_]
    tolerance: Array
    spread: Array
    hand: Array
    # Trips that are made anyway.
    paid: frozenset[str]

    @cached_property
    def low(self) -> Array:
        """Return how far down each lever can be moved, (J,)."""
        return np.array([one.low for one in self.levers])

    @cached_property
    def high(self) -> Array:
        """Return how far up each lever can be moved, (J,)."""
        return np.array([one.high for one in self.levers])

    @cached_property
    def cost(self) -> Array:
        """Return each lever's own minutes, (J,)."""
        return np.array([one.cost for one in self.levers])

    @cached_property
    def only_out(self) -> NDArray[np.bool_]:
        """Return which levers are moved only for a figure that reads outside, (J,)."""
        return np.array([only_out(one) for one in self.levers], dtype=bool)

    @cached_property
    def least_chance_out(self) -> Array:
        """Return how likely each lever's figure has to be outside before it is moved, (J,)."""
        return np.array([one.least_chance_out for one in self.levers])

    @cached_property
    def irreversible(self) -> NDArray[np.bool_]:
        """Return which levers take away what nothing puts back, (J,)."""
        return np.array([one.irreversible for one in self.levers], dtype=bool)

    def loss(self, amounts: Array, unseen: bool = False) -> float:
        """Return the minutes expected of these moves and of what they leave; `unseen`: where nobody reads it."""
        moved = np.abs(amounts) > 1e-9
        touched = (self.own & moved).any(axis=1)
        spread = np.where(touched, np.hypot(self.spread, self.hand), self.spread)
        seen = touched & ~(self.own & (moved & self.irreversible)).any(axis=1)
        left = minutes_left(self.off + self.effect @ amounts, self.tolerance, spread, seen & (not unseen))
        return float(left.sum()) + self.minutes(moved)

    def minutes(self, moved: NDArray[np.bool_]) -> float:
        """Return what the moves cost: each its own, and what their trip costs once."""
        used = [lever for lever, yes in zip(self.levers, moved, strict=True) if yes]
        return minutes_of(used, self.paid)


def nearest_to_all(amounts: Array, worst: Array) -> float:
    """Return the amount that leaves the worst of its figures nearest, where none brings all of them inside.

    A rod that serves both sides of a twisted neck stands where their mean is right: to bring one side inside and put
    the other farther out is no gain. Not turned for less than is worth a turn. Common practice, no source.
    """
    best, stay = int(np.argmin(worst)), int(np.argmin(np.abs(amounts)))
    return float(amounts[best]) if worst[stay] - worst[best] > WORTH_A_TURN else 0.0


def in_hand(stage: Stage, columns: NDArray[np.intp], amounts: Array) -> NDArray[np.bool_]:
    """Return which cuts are of a saddle that is out anyway, for another stage or beside these `amounts`, (C,).

    Each string's place on it is then shaped to what is wanted: aimed at the middle, not left at its edge because one
    reading still says inside. Common practice, no source.
    """
    own = stage.irreversible[columns]
    if not own.any():
        return own
    cuts = [
        one for one, amount in zip(stage.levers, amounts.tolist(), strict=True) if amount and one.irreversible
    ]
    out = IN_ONE_PIECE in stage.paid or any(one.trip == IN_ONE_PIECE for one in cuts)
    return np.asarray(own & [out and stage.levers[at].trip == IN_ONE_PIECE for at in columns.tolist()])


def minutes_of(moved: Sequence[Lever], paid: frozenset[str] = frozenset()) -> float:
    """Return the minutes that moving these levers costs: each its own, and each trip that is not `paid` once."""
    trips = {one.trip: one.trip_minutes for one in moved if one.trip not in paid}
    return sum(one.cost for one in moved) + sum(trips.values())
