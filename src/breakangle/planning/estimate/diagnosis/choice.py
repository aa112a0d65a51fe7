"""Which of many possible causes stand behind the readings: chosen together, each with its probability.

Every cause is a direction with an unknown amplitude, Gaussian around zero, and a probability of being there at all. In
the linear model all that the readings say of the causes is `told` = Uᵀ S⁻¹ r and `shared` = Uᵀ S⁻¹ U, where U are the
causes' directions in the readings, r the readings less what is expected of them and S the covariance of that. Any set
of causes is then weighed in closed form.

Source: marginal likelihood of a linear model with Gaussian amplitudes and a prior for every subset, E. I. George and
R. E. McCulloch (1997), Approaches for Bayesian variable selection, Statistica Sinica 7, 339. [memory]
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import erfc, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
# Derived.
FAR_OUT = -25.0  # spreads, where the share nears the smallest number there is
MOST_CAUSES = 14  # at once; more than a bench has ever shown together; common practice, no source


@dataclass(frozen=True)
class Told:
    """What the readings say of C causes: `told` (C,), `shared` (C, C), with each one's spread and log odds (C,).

    `side` (C,): 1 where the amplitude cannot be below zero, 0 where it can be either. `alone` (C,): what is added to
    the log odds of one of `among` (C,) that is there without any other of them; with two of them it counts for none.
    """

    told: Array
    shared: Array
    spread: Array
    log_odds: Array
    side: Array
    alone: Array | float = 0.0
    among: NDArray[np.bool_] | None = None

    @cached_property
    def choice(self) -> "Choice":
        """Return the likeliest set of causes, and how probable each is."""
        return chosen(self)

    @cached_property
    def _one_sided(self) -> NDArray[np.intp]:
        return np.flatnonzero(self.side)

    @cached_property
    def _scaled(self) -> tuple[Array, Array]:
        """Return told and shared for amplitudes in units of their spread."""
        return self.told * self.spread, self.shared * np.outer(self.spread, self.spread)

    def gains(self, beside: Sequence[int]) -> Array:
        """Return by how much the log posterior grows with each cause, `beside` those already taken, (C,)."""
        told, shared = self._scaled
        taken = list(beside)
        left, own = told, np.diag(shared)
        if taken:
            among = np.eye(len(taken)) + shared[np.ix_(taken, taken)]
            across = shared[taken]
            solved = np.linalg.solve(among, np.column_stack([told[taken], across]))
            left = told - across.T @ solved[:, 0]
            own = own - np.einsum("ij,ij->j", across, solved[:, 1:])
        own = np.maximum(own, 0.0)
        found = self._odds_beside(taken) - 0.5 * np.log1p(own) + 0.5 * left**2 / (1.0 + own)
        # Half of a Gaussian, twice as dense: what of the amplitude lies on the side where it can be.
        half = self._one_sided
        found[half] += [log(2.0) + _log_share(z) for z in (left[half] / np.sqrt(1.0 + own[half])).tolist()]
        found[taken] = -np.inf
        return np.asarray(found)

    def _odds_beside(self, taken: Sequence[int]) -> Array:
        """Return what each cause adds to the log odds of the set `taken`, whatever order that was put together in."""
        if self.among is None:
            return np.asarray(self.log_odds + self.alone)
        alone = np.broadcast_to(self.alone, self.log_odds.shape)
        there = [one for one in taken if self.among[one]]
        if not there:
            return np.asarray(self.log_odds + np.where(self.among, alone, 0.0))
        no_longer_alone = float(alone[there[0]]) if len(there) == 1 else 0.0
        return np.asarray(self.log_odds - np.where(self.among, no_longer_alone, 0.0))

    def amplitudes(self, causes: Sequence[int]) -> tuple[Array, Array]:
        """Return mean (K,) and covariance (K, K) of the amplitudes of `causes`, given that just these are there."""
        told, shared = self._scaled
        taken = list(causes)
        covariance = np.linalg.inv(np.eye(len(taken)) + shared[np.ix_(taken, taken)])
        size = self.spread[taken]
        return size * (covariance @ told[taken]), covariance * np.outer(size, size)


@dataclass(frozen=True)
class Choice:
    """The likeliest set of causes, and the probability of each cause, (C,)."""

    chosen: tuple[int, ...]
    probability: Array


def _log_share(z: float) -> float:
    """Return the logarithm of the share of a normal distribution below `z`; far out by its asymptote."""
    if z < FAR_OUT:
        return -0.5 * z * z - log(-z * sqrt(2.0 * pi))
    return log(0.5 * erfc(-z / sqrt(2.0)))


def chosen(told: Told) -> Choice:
    """Return the likeliest set of causes, found by adding, dropping and exchanging, with each one's probability."""
    taken: list[int] = []
    gains = told.gains(taken)
    while len(taken) < MOST_CAUSES:
        best = int(np.argmax(gains))
        if gains[best] <= 0.0:
            break
        taken.append(best)
        taken = _exchanged(told, taken)
        gains = told.gains(taken)
    return Choice(tuple(taken), _probabilities(told, taken, gains))


def _exchanged(told: Told, taken: list[int]) -> list[int]:
    """Return the set with each cause in turn dropped, or exchanged for a better one."""
    for cause in list(taken[:-1]):
        others = [one for one in taken if one != cause]
        gains = told.gains(others)
        best = int(np.argmax(gains))
        if gains[best] <= 0.0:
            taken = others
        elif best != cause and gains[best] > gains[cause] + 1e-9:
            taken = [*others, best]
    return taken


@dataclass(frozen=True)
class Otherwise:
    """A set one change away from the chosen one: what is `dropped` of it, what is `added` to it, how probable it is."""

    probability: float
    dropped: int | None
    added: int | None


def one_change_away(told: Told, taken: Sequence[int], least: float) -> Iterator[Otherwise]:
    """Yield the sets one change away from `taken` that are at least so probable: one more, one fewer, or exchanged."""
    more, changed = _weights(told, taken, told.gains(taken))
    total = 1.0 + more.sum() + sum(one.sum() for one in changed.values())
    for added in np.flatnonzero(more >= least * total).tolist():
        yield Otherwise(float(more[added] / total), None, added)
    for dropped, weight in changed.items():
        for added in np.flatnonzero(weight >= least * total).tolist():
            yield Otherwise(float(weight[added] / total), dropped, None if added == dropped else added)


def _weights(told: Told, taken: Sequence[int], gains: Array) -> tuple[Array, dict[int, Array]]:
    """Return what sets one change away weigh over the chosen one: with one more (C,), and for each dropped (C,).

    Of a dropped cause its own place is that of the set without anything instead.
    """
    changed: dict[int, Array] = {}
    for cause in taken:
        beside = told.gains([one for one in taken if one != cause])
        changed[cause] = np.exp(np.clip(beside - beside[cause], -700.0, 50.0))
        changed[cause][cause] = np.exp(np.clip(-beside[cause], -700.0, 50.0))
    return np.exp(np.clip(gains, -700.0, 50.0)), changed


def _probabilities(told: Told, taken: list[int], gains: Array) -> Array:
    """Return each cause's share of the weight of the chosen set and of all sets one change away from it, (C,)."""
    more, changed = _weights(told, taken, gains)
    without = {cause: float(one.sum()) for cause, one in changed.items()}
    total, having = 1.0 + more.sum() + sum(without.values()), more.copy()
    for cause, weight in changed.items():
        having += np.where(np.arange(len(weight)) == cause, 0.0, weight)
    found = having / total
    for cause, weight_without in without.items():
        found[cause] = 1.0 - weight_without / total
    return np.asarray(found)
