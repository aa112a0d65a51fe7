"""One stretch of readings between two adjustments, and the most probable state after it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading
from breakangle.planning.kinds.kind import ReadingKind
from breakangle.planning.kinds.registry import reading_kind, reading_kinds
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import Belief
from breakangle.planning.state.picture import Picture, picture_of

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
# Where nothing else is said below: chosen: how the computation goes, nothing of an instrument.
MOST_ITERATIONS = 20
MOST_HALVINGS = 6
FARTHEST_STEP_SPREADS = 4.0
SETTLED_SPREADS = 1e-3
# A figure written down wrong is off by so many spreads of its gauge, or by so much of itself (digits changed about, a
# decimal slipped): common practice, no source.
SLIP_GAUGES, SLIP_SHARE = 10.0, 0.6


@dataclass(frozen=True)
class Batch:
    """Readings of one stretch, grouped by kind so that each kind predicts once."""

    readings: tuple[Reading, ...]
    groups: tuple[tuple[ReadingKind, tuple[Reading, ...], Indices], ...]
    values: Array
    spreads: Array
    surprises: Array

    def slip_spreads(self, foreseen: Array) -> Array:
        """Return how far off a figure written down wrong is, one standard deviation, `foreseen` what they should be."""
        size = np.maximum(np.abs(self.values), np.abs(foreseen))
        return np.maximum(SLIP_GAUGES * self.spreads, SLIP_SHARE * size)

    def predicted(self, picture: Picture) -> tuple[Array, Array, Array]:
        """Return what all these readings should be (R,), their rows (R, N), and what no gauge explains (R,)."""
        count = len(self.readings)
        values, unexplained = np.zeros(count), np.zeros(count)
        rows = np.zeros((count, picture.layout.size))
        for kind, together, places in self.groups:
            found = kind.predict(together, picture)
            values[places], rows[places] = found.values, found.rows
            unexplained[places] = found.unexplained
        return values, rows, unexplained


def batch_of(readings: Sequence[Reading], board: Board) -> Batch:
    """Return the readings in one fixed order, so that the order they were taken in cannot matter."""
    ordered = tuple(sorted(readings, key=lambda one: one.model_dump_json()))
    kinds = [reading_kind(one) for one in ordered]
    apart: dict[str, list[int]] = {}
    for place, one in enumerate(ordered):
        apart.setdefault(one.quantity, []).append(place)
    groups = tuple(
        (reading_kinds()[name], tuple(ordered[place] for place in places), np.array(places, dtype=np.intp))
        for name, places in apart.items()
    )
    values = np.array([kind.value(one, board) for kind, one in zip(kinds, ordered, strict=True)])
    return Batch(
        readings=ordered,
        groups=groups,
        values=values,
        spreads=np.array([kind.spread(one) for kind, one in zip(kinds, ordered, strict=True)]),
        surprises=np.array([kind.surprise for kind in kinds]),
    )


@dataclass(frozen=True)
class Fit:
    """The belief after a batch: residuals, leverages, variances and noise of its readings (R,), and rows (R, N).

    `variance` counts a reading that is believed to be a slip as wide as slips are; `noise` does not.
    """

    belief: Belief
    residual: Array
    leverage: Array
    variance: Array
    noise: Array
    rows: Array
    slip_spreads: Array

    @property
    def spreads(self) -> Array:
        """Return how many spreads each reading lies from what everything else leads one to expect."""
        left = 1.0 - self.leverage
        return np.asarray(
            np.abs(self.residual / left) / np.sqrt(self.noise + self.variance * self.leverage / left)
        )


@dataclass(frozen=True)
class Carried:
    """What an adjustment does to a belief, as a linear move: rows (N, N), shift (N,), added variance (N,)."""

    rows: Array
    shift: Array
    variance: Array

    @cached_property
    def _changed(self) -> tuple[Indices, Array]:
        """Return which rows differ from the identity's (few do), and these rows."""
        places = np.flatnonzero((self.rows != np.eye(len(self.rows))).any(axis=1))
        return places, self.rows[places]

    def moved(self, columns: Array) -> Array:
        """Return rows · columns."""
        places, rows = self._changed
        if not len(places):
            return columns
        found = columns.copy()
        found[places] = rows @ columns
        return found

    def covariance(self, before: Array) -> Array:
        """Return the covariance after it."""
        places, rows = self._changed
        after = before.copy()
        if len(places):
            after[places] = rows @ before
            after[:, places] = after @ rows.T
        after.flat[:: len(after) + 1] += self.variance
        return after

    def carried(self, mean: Array, covariance: Array) -> tuple[Array, Array]:
        """Return mean and covariance after it."""
        return self.rows @ mean + self.shift, self.covariance(covariance)


@dataclass(frozen=True)
class Stage:
    """One stretch as it was fitted: `linear` (R,) are readings less all but their rows' share of the state.

    `effect` is the adjustment that followed, None after the last stretch.
    """

    batch: Batch
    rows: Array
    linear: Array
    noise: Array
    slip_spreads: Array
    effect: Carried | None


def fit(belief: Belief, batch: Batch, board: Board, slips: Sequence[int]) -> Fit:
    """Return the belief after the batch, its residuals and leverages; `slips` are readings counted for next to nothing.

    The state is kept as mean + covariance · pull, so that its distance from the prior needs no inverse.
    """
    mean, prior = belief.mean, belief.covariance
    scale = np.sqrt(np.maximum(np.diag(prior), 1e-18))
    pull, state = np.zeros_like(mean), mean
    last, taken = np.zeros_like(mean), 1.0
    values, rows, unexplained = batch.predicted(picture_of(board, state))
    slip_spreads = batch.slip_spreads(values)
    added = np.zeros(len(values))
    added[list(slips)] = slip_spreads[list(slips)] ** 2
    for _ in range(MOST_ITERATIONS):
        variance = batch.spreads**2 + unexplained**2 + added
        cross = prior @ rows.T
        innovation = rows @ cross + np.diag(variance)
        wanted = np.linalg.solve(innovation, batch.values - values - rows @ (mean - state))
        way = rows.T @ wanted - pull
        step = prior @ way
        far = np.max(np.abs(step) / scale)
        # Readings that no instrument could give must not throw the state where the physics has no meaning.
        share = min(_relaxed(step / scale, last, taken), FARTHEST_STEP_SPREADS / max(far, 1e-300))
        now = _misfit(batch.values - values, variance, state - mean, pull)
        for _ in range(MOST_HALVINGS):
            values, rows, unexplained = batch.predicted(picture_of(board, state + share * step))
            then = _misfit(batch.values - values, variance, state + share * step - mean, pull + share * way)
            # The physics bends: a full step may overshoot, and the next one back again, for ever.
            if then <= now or share * far < SETTLED_SPREADS:
                break
            share *= 0.5
        else:
            values, rows, unexplained = batch.predicted(picture_of(board, state + share * step))
        state, pull = state + share * step, pull + share * way
        last, taken = step / scale, share
        if share * far < SETTLED_SPREADS:
            break
    # At the end, not a step before: a string that has come to rest on another crown answers to others than it did.
    at_end = (batch.values - values, rows, batch.spreads**2 + unexplained**2)
    return _fitted(replace(belief, mean=state), at_end, added, slip_spreads)


def _fitted(belief: Belief, at_end: tuple[Array, Array, Array], added: Array, slip_spreads: Array) -> Fit:
    """Return the fit at its end: `belief` has the prior's covariance still; residuals, rows and noise are `at_end`."""
    residual, rows, noise = at_end
    prior, variance = belief.covariance, noise + added
    cross = prior @ rows.T
    gain = np.linalg.solve(rows @ cross + np.diag(variance), cross.T).T
    covariance = prior - gain @ cross.T
    covariance = 0.5 * (covariance + covariance.T)
    leverage = np.clip(np.sum(rows * gain.T, axis=1), 0.0, 1.0 - 1e-6)
    after = replace(belief, covariance=covariance)
    return Fit(after, residual, leverage, variance, noise, rows, slip_spreads)


def _relaxed(step: Array, last: Array, taken: float) -> float:
    """Return what share of a step to take: less where it turns back on the one before, of which `taken` was taken.

    Source: A. C. Aitken's extrapolation of a sequence whose steps shrink by one factor; here only to shorten. [memory]
    """
    turned = float(step @ last) / max(float(last @ last), 1e-300)
    return taken / (1.0 - turned) if turned < 0.0 else 1.0


def _misfit(residual: Array, variance: Array, moved: Array, pull: Array) -> float:
    """Return what the most probable state makes least: squared spreads from the readings and from the prior."""
    return float(residual @ (residual / variance) + moved @ pull)
