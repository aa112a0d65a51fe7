"""Readings to state: the most probable state of the instrument, with what is still uncertain.

Iterated Gauss-Newton on a Gaussian prior (maximum a posteriori), one batch for each stretch of readings
between two adjustments; an adjustment moves the belief on and widens it. A reading that the rest contradict
is not averaged in silently: it is named, and counts for less until it is taken again.

Source: B. M. Bell and F. W. Cathey (1993), The iterated Kalman filter update as a Gauss-Newton method,
IEEE Trans. Autom. Control 38, 294; leave-one-out residuals r/(1 - h): Cook and Weisberg (1982), Residuals and
Influence in Regression, section 2.2. [memory]
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.planning.board import Board, board_of
from breakangle.planning.layout import Belief
from breakangle.planning.picture import Picture, picture_of
from breakangle.planning.prior import Responses, prior_of
from breakangle.planning.registry import adjustment_kind, reading_kind, reading_kinds

Array = NDArray[np.float64]
MOST_ITERATIONS = 20
MOST_HALVINGS = 6
FARTHEST_STEP_SPREADS = 4.0
SETTLED_SPREADS = 1e-3
CONTRADICTED_SPREADS = 4.0
SURPRISING_SPREADS = 2.0
OPEN_MINDED_SPREADS = 3.0


@dataclass(frozen=True)
class Surprise:
    """A reading that the rest did not lead one to expect; `contradicted`: it cannot stand beside them."""

    reading: Reading
    read: float
    expected: float
    spreads: float
    contradicted: bool

    def sentence(self) -> str:
        """Return it in plain words, as a question."""
        kind = reading_kind(self.reading)
        off = f"{abs(self.read - self.expected):.{kind.decimals}f} {kind.unit}"
        others = "the other readings" if self.contradicted else "what its neighbours lead one to expect"
        tail = " Until then it counts for less." if self.contradicted else ""
        return (
            f"{kind.place(self.reading).capitalize()} disagrees with {others} by {off}: read it again?{tail}"
        )


@dataclass(frozen=True)
class Estimate:
    """The state after all readings and adjustments so far."""

    board: Board
    belief: Belief
    surprises: tuple[Surprise, ...] = ()
    readings_used: int = 0

    @cached_property
    def picture(self) -> Picture:
        """Return everything that can be read off the most probable state."""
        return picture_of(self.board, self.belief.mean)


@dataclass(frozen=True)
class _Batch:
    """Readings of one stretch, grouped by kind so that each kind predicts once."""

    readings: tuple[Reading, ...]
    groups: tuple[tuple[str, tuple[int, ...]], ...]
    values: Array
    spreads: Array

    def predicted(self, picture: Picture) -> tuple[Array, Array, Array]:
        """Return what all these readings should be (R,), their rows (R, N), and what no gauge explains (R,)."""
        count = len(self.readings)
        values, unexplained = np.zeros(count), np.zeros(count)
        rows = np.zeros((count, picture.layout.size))
        for name, places in self.groups:
            found = reading_kinds()[name].predict([self.readings[i] for i in places], picture)
            at = list(places)
            values[at], rows[at], unexplained[at] = found.values, found.rows, found.unexplained
        return values, rows, unexplained


def _batch(readings: Sequence[Reading], board: Board) -> _Batch:
    """Return the readings in one fixed order, so that the order they were taken in cannot matter."""
    ordered = tuple(sorted(readings, key=lambda one: one.model_dump_json()))
    names = [one.quantity for one in ordered]
    groups = tuple(
        (name, tuple(i for i, other in enumerate(names) if other == name)) for name in dict.fromkeys(names)
    )
    values = np.array([reading_kind(one).value(one, board) for one in ordered])
    spreads = np.array([reading_kind(one).spread(one) for one in ordered])
    return _Batch(ordered, groups, values, spreads)


@dataclass(frozen=True)
class _Fit:
    belief: Belief
    residual: Array
    leverage: Array
    variance: Array

    @property
    def spreads(self) -> Array:
        """Return how many spreads each reading lies from what everything else leads one to expect."""
        return np.asarray(np.abs(self.residual) / np.sqrt(self.variance * (1.0 - self.leverage)))


def _fit(belief: Belief, batch: _Batch, board: Board, inflation: Array) -> _Fit:
    """Return the belief after the batch, its residuals and leverages.

    The state is kept as mean + covariance · pull, so that its distance from the prior needs no inverse.
    """
    mean, prior = belief.mean, belief.covariance
    scale = np.sqrt(np.maximum(np.diag(prior), 1e-18))
    pull, state = np.zeros_like(mean), mean
    values, rows, unexplained = batch.predicted(picture_of(board, state))
    for _ in range(MOST_ITERATIONS):
        variance = inflation * (batch.spreads**2 + unexplained**2)
        cross = prior @ rows.T
        innovation = rows @ cross + np.diag(variance)
        wanted = np.linalg.solve(innovation, batch.values - values - rows @ (mean - state))
        way = rows.T @ wanted - pull
        step = prior @ way
        far = np.max(np.abs(step) / scale)
        # Readings that no instrument could give must not throw the state where the physics has no meaning.
        share = min(1.0, FARTHEST_STEP_SPREADS / max(far, 1e-300))
        now = _misfit(batch.values - values, variance, state - mean, pull)
        for _ in range(MOST_HALVINGS):
            values, rows, unexplained = batch.predicted(picture_of(board, state + share * step))
            then = _misfit(batch.values - values, variance, state + share * step - mean, pull + share * way)
            # The physics bends: a full step may overshoot, and the next one back again, for ever.
            if then <= now or share * far < SETTLED_SPREADS:
                break
            share *= 0.5
        state, pull = state + share * step, pull + share * way
        if share * far < SETTLED_SPREADS:
            break
    # At the end, not a step before: a string that has come to rest on another crown answers to others than it did.
    variance = inflation * (batch.spreads**2 + unexplained**2)
    cross = prior @ rows.T
    gain = np.linalg.solve(rows @ cross + np.diag(variance), cross.T).T
    covariance = prior - gain @ cross.T
    covariance = 0.5 * (covariance + covariance.T)
    leverage = np.clip(np.sum((rows @ gain) * np.eye(len(values)), axis=1), 0.0, 1.0 - 1e-6)
    return _Fit(Belief(state, covariance), batch.values - values, leverage, variance)


def _misfit(residual: Array, variance: Array, moved: Array, pull: Array) -> float:
    """Return what the most probable state makes least: squared spreads from the readings and from the prior."""
    return float(residual @ (residual / variance) + moved @ pull)


def update(belief: Belief, readings: Sequence[Reading], board: Board) -> tuple[Belief, tuple[Surprise, ...]]:
    """Return the belief after `readings` (one stretch), and the readings that surprise."""
    if not readings:
        return belief, ()
    batch = _batch(readings, board)
    fit = _fit(belief, batch, board, np.ones(len(batch.readings)))
    if np.max(fit.spreads) <= CONTRADICTED_SPREADS:
        return fit.belief, _surprises(batch, fit, set())
    inflation, contradicted = _contradictions(belief, batch, board)
    fit = _fit(belief, batch, board, inflation)
    return fit.belief, _surprises(batch, fit, contradicted)


def _contradictions(belief: Belief, batch: _Batch, board: Board) -> tuple[Array, set[int]]:
    """Return how much each reading's variance must grow, and which readings cannot stand beside the rest.

    Judged with a wider prior: an instrument may be unlike its kind, but readings must agree among themselves.
    """
    open_minded = Belief(belief.mean, OPEN_MINDED_SPREADS**2 * belief.covariance)
    inflation, contradicted = np.ones(len(batch.readings)), set[int]()
    while len(contradicted) < (len(batch.readings) + 1) // 2:
        fit = _fit(open_minded, batch, board, inflation)
        worst = int(np.argmax(fit.spreads))
        if fit.spreads[worst] <= CONTRADICTED_SPREADS:
            break
        contradicted.add(worst)
        inflation[worst] *= (fit.spreads[worst] / 1.5) ** 2
    return inflation, contradicted


def _surprises(batch: _Batch, fit: _Fit, contradicted: set[int]) -> tuple[Surprise, ...]:
    found = []
    for index, reading in enumerate(batch.readings):
        off = fit.residual[index] / (1.0 - fit.leverage[index])
        spreads = fit.spreads[index]
        unusual = abs(off) > reading_kind(reading).surprise and spreads > SURPRISING_SPREADS
        if index in contradicted or unusual:
            read = float(batch.values[index])
            found.append(Surprise(reading, read, float(read - off), float(spreads), index in contradicted))
    return tuple(sorted(found, key=lambda one: -one.spreads))


def _carried(covariance: Array, rows: Array) -> Array:
    """Return rows · covariance · rowsᵀ, computing only the rows that differ from the identity's (few do)."""
    changed = np.flatnonzero((rows != np.eye(len(rows))).any(axis=1))
    half = covariance.copy()
    half[changed] = rows[changed] @ covariance
    whole = half.copy()
    whole[:, changed] = half @ rows[changed].T
    return whole


def adjusted(estimate: Estimate, adjustment: Adjustment) -> Estimate:
    """Return the estimate after `adjustment`: moved by its effect, and less certain by what it adds."""
    kind = adjustment_kind(adjustment)
    effect = kind.effect(adjustment, estimate.picture)
    covariance = _carried(estimate.belief.covariance, effect.rows)
    covariance[np.diag_indices_from(covariance)] += effect.variance
    instrument = adjustment.changed_instrument(estimate.board.instrument)
    board = board_of(instrument, estimate.board.reference_hz)
    return replace(estimate, board=board, belief=Belief(effect.mean, covariance))


def estimate(service: Service, prior: Belief | None = None, responses: Responses | None = None) -> Estimate:
    """Return the state of the service's instrument now, from any readings in any convention.

    Args:
        service: the service with its readings and the work done between them.
        prior: what is already believed (a former visit's end, with its drift); else the family's.
        responses: how this neck answers, where that has been learned; used with the family's prior.

    Raises:
        CorrectInputError: a kind, make or wrap that the tables do not know.
    """
    board = board_of(service.instrument, service.reference_hz)
    now = Estimate(board, prior if prior is not None else prior_of(board, responses))
    for stage in range(len(service.work) + 1):
        readings = [one for one in service.readings if one.after == stage]
        belief, surprises = update(now.belief, readings, now.board)
        used = now.readings_used + len(readings)
        now = replace(now, belief=belief, surprises=now.surprises + surprises, readings_used=used)
        if stage < len(service.work):
            now = adjusted(now, service.work[stage])
    return now
