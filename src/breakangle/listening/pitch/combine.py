"""From the pitch of each partial to partial 1, f0 and B: one stiff-string law, with the partials' own
scatter estimated.

Bodies pull partials off the stiff-string law by a cent or two, and by amounts nobody knows beforehand. So
their scatter s is estimated from the take itself (restricted maximum likelihood, Patterson and Thompson
1971, Biometrika 58, 545): with no scatter the sharpest partials decide, with much scatter all partials count
alike, and a single odd one counts little (Student's t weights, Lange, Little and Taylor 1989, J. Am. Stat.
Assoc. 84, 881). What is reported is partial 1 *of the law*: it repeats far better than any single partial.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench listening_honesty` tells what it costs.
# Exact.
CENTS = 1200.0 / np.log(2.0)
SCATTER_GRID = np.array([0.0, 3e-4, 1e-3, 3e-3, 0.01, 0.03, 0.1, 0.3, 0.6, 1.2, 2.5, 5.0, 10.0]) / CENTS
# Inharmonicity of guitar and bass strings, kept wide: common practice, no source.
EXPECTED_B, SPREAD_B = 2e-4, 6e-4
FREEDOM = 5.0


@dataclass(frozen=True)
class Law:
    """The stiff-string law of one take.

    Attributes:
        partial_one_hz: partial 1 of the law, in Hz.
        fundamental_hz: f0 of f_n = n f0 sqrt(1 + B n^2), in Hz.
        inharmonicity: B.
        spread_cents: standard error of partial 1.
        scatter_cents: standard deviation of partials about the law.
        odd_ratio: share of the partials' weight that was taken from odd ones.
        residual_cents: partials about the law, shape (partials,).
    """

    partial_one_hz: float
    fundamental_hz: float
    inharmonicity: float
    spread_cents: float
    scatter_cents: float
    odd_ratio: float
    residual_cents: FloatArray

    def moved(self, log_ratio: float) -> "Law":
        """The same law, all of it higher by a ratio whose logarithm is given."""
        ratio = float(np.exp(log_ratio))
        return replace(
            self, partial_one_hz=self.partial_one_hz * ratio, fundamental_hz=self.fundamental_hz * ratio
        )


@dataclass(frozen=True)
class _Fits:
    """Generalised least squares of ln f0 and B, one for each scatter tried; all arrays begin (scatters, ...)."""

    answer: FloatArray
    covariance: FloatArray
    residual: FloatArray
    likelihood: FloatArray
    scatter: FloatArray


@dataclass(frozen=True)
class _Problem:
    """Log pitches of the partials with what weighs them: own variance, share of scatter, and what is known
    of B."""

    y: FloatArray
    order: FloatArray
    variance: FloatArray
    share: FloatArray
    known_b: tuple[float, float]


def _fits(problem: _Problem, scatter: FloatArray, start_b: float) -> _Fits:
    """ln f0 and B by generalised least squares at each scatter, the law linearised at `start_b`, B held by what
    is known of it."""
    y, order = problem.y, problem.order
    slope = 0.5 * order**2 / (1 + start_b * order**2)
    design = np.stack([np.ones_like(order), slope], axis=1)
    target = y - 0.5 * np.log1p(start_b * order**2) + slope * start_b
    total = problem.variance + (scatter**2)[:, None, None] * np.diag(problem.share)
    factor = np.linalg.cholesky(total)
    white = np.linalg.solve(factor, np.column_stack([design, target]))
    normal = white.swapaxes(1, 2) @ white
    information, pull = normal[:, :2, :2], normal[:, :2, 2]
    information[:, 1, 1] += 1 / problem.known_b[1] ** 2
    pull[:, 1] += problem.known_b[0] / problem.known_b[1] ** 2
    covariance = np.linalg.inv(information)
    answer = (covariance @ pull[:, :, None])[:, :, 0]
    left = white[:, :, 2] - (white[:, :, :2] @ answer[:, :, None])[:, :, 0]
    size = 2 * np.log(np.einsum("snn->sn", factor)).sum(axis=1) - np.log(np.linalg.det(covariance))
    return _Fits(answer, covariance, target - answer @ design.T, size + (left**2).sum(axis=1), scatter)


@dataclass(frozen=True)
class _Fit:
    """The fit at the most likely scatter."""

    answer: FloatArray
    covariance: FloatArray
    residual: FloatArray
    scatter: float


def _best(problem: _Problem, start_b: float) -> _Fit:
    """The fit at the most likely scatter: a coarse grid, then a parabola in ln scatter through its best
    points."""
    fits = _fits(problem, SCATTER_GRID, start_b)
    at = int(np.argmin(fits.likelihood))
    if 2 <= at < len(SCATTER_GRID) - 1:
        finer = _lowest(np.log(SCATTER_GRID[at - 1 : at + 2]), fits.likelihood[at - 1 : at + 2])
        if finer is not None:
            fits, at = _fits(problem, np.array([np.exp(finer)]), start_b), 0
    return _Fit(fits.answer[at], fits.covariance[at], fits.residual[at], float(fits.scatter[at]))


def _lowest(x: FloatArray, y: FloatArray) -> float | None:
    """Where the parabola through three points is lowest; None when it has no lowest point."""
    left, right = (y[1] - y[0]) / (x[1] - x[0]), (y[2] - y[1]) / (x[2] - x[1])
    bend = (right - left) / (x[2] - x[0])
    return float((x[0] + x[1]) / 2 - left / (2 * bend)) if bend > 0 else None


def combine(
    frequency_hz: FloatArray,
    order: NDArray[np.int64],
    covariance: FloatArray,
    level: FloatArray,
    known_b: tuple[float, float] = (EXPECTED_B, SPREAD_B),
) -> Law:
    """The law that the partials follow, and partial 1 with its standard error.

    Args:
        frequency_hz: measured partials, shape (partials,).
        order: their numbers, shape (partials,).
        covariance: of ln frequency, shape (partials, partials).
        level: amplitude of each partial; weak ones scatter more, by the fourth root. Shape (partials,).
        known_b: what is known of B beforehand, and its spread.
    """
    n = order.astype(float)
    reference = float(frequency_hz[0] / n[0])
    y = np.log(frequency_hz / (n * reference))
    share = np.sqrt(level.max() / level)
    share = share / share.min()
    own = covariance + 1e-14 * np.eye(len(y))
    b, stretch = known_b[0], np.ones(len(y))
    fit = _best(_Problem(y, n, own, share, known_b), b)
    for _ in range(3):
        b = float(np.clip(fit.answer[1], 0.0, 8e-3))
        usual = np.diag(own) + max(fit.scatter, 1e-6) ** 2 * share
        far = fit.residual**2 / usual
        stretch = np.sqrt((FREEDOM + far) / (FREEDOM + 1)) if len(y) > 4 else stretch
        stretch = np.maximum(stretch, 1.0)
        fit = _best(_Problem(y, n, own + np.diag((stretch**2 - 1) * usual), share, known_b), b)
    gradient = np.array([1.0, 0.5 / (1 + b)])
    partial_one = fit.answer[0] + 0.5 * np.log1p(b) + gradient[1] * (fit.answer[1] - b)
    return Law(
        partial_one_hz=reference * float(np.exp(partial_one)),
        fundamental_hz=reference * float(np.exp(fit.answer[0])),
        inharmonicity=b,
        spread_cents=CENTS * float(np.sqrt(gradient @ fit.covariance @ gradient)),
        scatter_cents=CENTS * fit.scatter,
        odd_ratio=float(1 - np.mean(1 / stretch**2)),
        residual_cents=CENTS * fit.residual,
    )
