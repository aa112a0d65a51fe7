"""What the readings of a whole service say of every possible cause: patterns, odd places, and slips in readings.

The model is taken as linear where the readings have led, and the readings are weighed against what was believed before
any of them: a cause is carried through every batch of readings and every adjustment as the shift it would leave behind.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading
from breakangle.planning.estimate.batch import Carried, Stage
from breakangle.planning.estimate.diagnosis.cause import Cause, Causes
from breakangle.planning.estimate.diagnosis.choice import Choice, Told
from breakangle.planning.estimate.diagnosis.finer_than_gauge import finer_than_gauge
from breakangle.planning.state.layout import Belief

Array = NDArray[np.float64]
# One reading in 25 is written down wrong. Common practice, no source.
SLIP_PROBABILITY = 0.04
FINER_SLIP_PROBABILITY = 0.5  # of a figure that its gauge does not show; common practice, no source
# Of slips so many are slipped decimals, to either side; and a figure is written to a hundredth, a rounding's spread.
# Common practice, no source.
DECIMAL_SHARE, WRITTEN_SPREAD_MM = 0.25, 0.003


@dataclass(frozen=True)
class Evidence:
    """What R readings say of C causes and of a slip in each reading; slips stand after the causes.

    `shown` (R, C + R): each cause's direction in the readings; `weighed` (R, C + R): that over their covariance.
    `rows` (R, N) and `noise` (R,): what the readings show of the state of their own stretch, and how surely.
    `left_behind` (N, C + R): by how much the state now is otherwise with one unit of each cause or slip than without.
    `unseen` (N, K): what patterns add to the state's covariance that are as likely as ever, for no gap was read where
    they show: columns, to be multiplied by their transpose.
    """

    causes: Causes
    readings: tuple[Reading, ...]
    told: Told
    shown: Array
    weighed: Array
    rows: Array
    noise: Array
    left_behind: Array
    unseen: Array

    @property
    def choice(self) -> Choice:
        """Return the likeliest set of causes and slips, and how probable each is."""
        return self.told.choice

    def after(self, effect: Carried) -> "Evidence":
        """Return the same once an adjustment has moved the state."""
        return replace(self, left_behind=effect.moved(self.left_behind), unseen=effect.moved(self.unseen))

    @property
    def chosen_causes(self) -> tuple[int, ...]:
        """Return which patterns' causes are believed in; a place unlike its kind is only weighed against slips."""
        every = self.causes.all
        return tuple(sorted(one for one in self.choice.chosen if one < len(every) and every[one].pattern))

    @property
    def slips(self) -> tuple[int, ...]:
        """Return which readings are believed to be wrong."""
        count = len(self.causes.all)
        return tuple(sorted(one - count for one in self.choice.chosen if one >= count))

    @property
    def slip_chances(self) -> Array:
        """Return how probable it is that each reading was written down wrong, shape (R,)."""
        return np.asarray(self.choice.probability[len(self.causes.all) :])

    def amplitude(self, cause: int, instead_of: Sequence[int] = ()) -> tuple[float, float]:
        """Return mean and standard uncertainty of a cause's amplitude, given that it is there, `instead_of` others."""
        taken = [one for one in self.choice.chosen if one != cause and one not in instead_of] + [cause]
        mean, covariance = self.told.amplitudes(taken)
        return float(mean[-1]), float(np.sqrt(max(covariance[-1, -1], 0.0)))

    def probability(self, cause: int) -> float:
        """Return how probable it is that the cause is there at all."""
        return float(self.choice.probability[cause])


def evidence(stages: Sequence[Stage], start: Belief, causes: Causes) -> Evidence:
    """Return what all stages' readings say, before any cause is believed; `start` is the belief before them."""
    readings = tuple(one for stage in stages for one in stage.batch.readings)
    count, kinds, hidden = len(readings), len(causes.all), _Hidden.of(causes, readings)
    moved = np.concatenate([causes.directions, np.zeros((len(start.mean), count))], axis=1)
    mean, covariance, done = start.mean, start.covariance, 0
    told, shared = np.zeros(kinds + count), np.zeros((kinds + count, kinds + count))
    shown, weighed = np.zeros((count, kinds + count)), np.zeros((count, kinds + count))
    for place, stage in enumerate(stages):
        size = len(stage.batch.readings)
        if size:
            own = stage.rows @ moved
            own[:, kinds + done : kinds + done + size] += np.eye(size)
            cross = stage.rows @ covariance
            innovation = cross @ stage.rows.T + np.diag(stage.noise)
            off = (stage.linear - stage.rows @ mean)[:, None]
            both = np.concatenate([hidden.shown(stage), off, own], axis=1)
            solved, hidden = hidden.told(both, np.linalg.solve(innovation, both), cross)
            told += own.T @ solved[:, 0]
            shared += own.T @ solved[:, 1:]
            shown[done : done + size], weighed[done : done + size] = own, solved[:, 1:]
            done += size
            moved = moved - cross.T @ solved[:, 1:]
            if place < len(stages) - 1:
                mean = mean + cross.T @ solved[:, 0]
                covariance = covariance - cross.T @ np.linalg.solve(innovation, cross)
        if stage.effect is not None:
            mean, covariance = stage.effect.carried(mean, covariance)
            moved, hidden = stage.effect.moved(moved), hidden.after(stage.effect)
    return Evidence(
        causes,
        readings,
        _told(told, shared, stages, causes, readings),
        shown,
        weighed,
        np.concatenate([stage.rows for stage in stages]),
        np.concatenate([stage.noise for stage in stages]),
        moved,
        hidden.columns(),
    )


@dataclass(frozen=True)
class _Hidden:
    """Patterns where no gap was read: `moved` (N, K) as `left_behind`, `shared` (K,) what readings say of their sizes.

    A short straight-edge on single crowns lies still on a smooth rise or hump, so what it read tells nothing of them.
    """

    causes: tuple[Cause, ...]
    moved: Array
    shared: Array

    @staticmethod
    def of(causes: Causes, readings: Sequence[Reading]) -> "_Hidden":
        """Return those of `causes` that show only where no gap was read."""
        frets = {one.fret for one in readings if one.quantity == "gap"}
        found = tuple(one for one in causes.seen_somewhere if not one.seen_at & frets)
        columns = [one.direction[:, None] for one in found]
        size = len(causes.directions)
        return _Hidden(found, np.concatenate([np.zeros((size, 0)), *columns], axis=1), np.zeros(len(found)))

    def shown(self, stage: Stage) -> Array:
        """Return what one unit of each would show in the readings of `stage`, (R, K)."""
        own = stage.rows @ self.moved
        own[[one.quantity == "crown" for one in stage.batch.readings]] = 0.0
        return np.asarray(own)

    def told(self, shown: Array, solved: Array, cross: Array) -> tuple[Array, "_Hidden"]:
        """Return the columns of `solved` that are not of these, and these after the readings; theirs stand first."""
        count = len(self.causes)
        shared = self.shared + np.einsum("rk,rk->k", shown[:, :count], solved[:, :count])
        return solved[:, count:], replace(self, moved=self.moved - cross.T @ solved[:, :count], shared=shared)

    def after(self, effect: Carried) -> "_Hidden":
        """Return the same once an adjustment has moved the state."""
        return replace(self, moved=effect.moved(self.moved))

    def columns(self) -> Array:
        """Return what they add to the state's covariance as columns, each as likely as it is met with."""
        spread = np.array([one.spread for one in self.causes])
        probability = np.array([one.probability for one in self.causes])
        left = 1.0 / np.sqrt(1.0 / np.maximum(spread, 1e-9) ** 2 + self.shared)
        return np.asarray(self.moved * (np.sqrt(probability) * left))


def _told(
    told: Array, shared: Array, stages: Sequence[Stage], causes: Causes, readings: Sequence[Reading]
) -> Told:
    """Return what is told of causes and slips, with how large and how likely each is beforehand."""
    odd = finer_than_gauge(readings)
    chance = np.where(odd, FINER_SLIP_PROBABILITY, SLIP_PROBABILITY)
    odds, kinds = np.log(chance / (1.0 - chance)), len(causes.all)
    bowed = np.array([_is_relief(one) for one in readings], dtype=bool)
    decimal = np.where(bowed, _decimal_odds(told, shared, stages, kinds), 0.0)
    return Told(
        told,
        shared,
        spread=np.concatenate([causes.spread, *(stage.slip_spreads for stage in stages)]),
        log_odds=np.concatenate([causes.odds_where_read(readings), odds]),
        side=np.concatenate([causes.side, np.zeros(len(readings))]),
        alone=np.concatenate([np.zeros(kinds), decimal]),
        among=np.concatenate([np.zeros(kinds, dtype=bool), bowed]),
    )


def _decimal_odds(told: Array, shared: Array, stages: Sequence[Stage], kinds: int) -> Array:
    """Return how much likelier a slip in each reading is for being just ten times off, in log odds (R,).

    Of relief, of which each edge foretells the other: a decimal slipped in one of them is a twist's rival, and far
    likelier than chance where the other edge says ten times as much. Without the reading itself it should be its value
    less told/shared, ± 1/sqrt(shared). [derived]
    """
    values = np.concatenate([stage.batch.values for stage in stages])
    own = np.maximum(np.diag(shared)[kinds:], 1e-12)
    spreads = np.concatenate([stage.slip_spreads for stage in stages])
    foreseen, spread = values - told[kinds:] / own, own**-0.5
    usual = _density(values - foreseen, np.hypot(spread, spreads))
    decimal = [_density(values - t * foreseen, np.hypot(t * spread, WRITTEN_SPREAD_MM)) for t in (0.1, 10.0)]
    likelier = (
        1.0 - DECIMAL_SHARE + DECIMAL_SHARE * 0.5 * (decimal[0] + decimal[1]) / np.maximum(usual, 1e-12)
    )
    return np.asarray(np.where(values > 0.0, np.log(likelier), 0.0))


def _density(off: Array, spread: Array) -> Array:
    return np.asarray(
        np.exp(-0.5 * np.minimum((off / spread) ** 2, 1000.0)) / (spread * np.sqrt(2.0 * np.pi))
    )


def _is_relief(one: Reading) -> bool:
    held: tuple[int, ...] = getattr(one, "held", ())
    return one.quantity == "gap" and bool(held) and held[0] < one.fret < held[-1]


def widened(belief: Belief, causes: Causes, believed: Sequence[int]) -> Belief:
    """Return the belief as open along the causes that are believed in as they may be large."""
    if not believed:
        return belief
    along = causes.directions[:, list(believed)] * causes.spread[list(believed)]
    return replace(belief, covariance=belief.covariance + along @ along.T)
