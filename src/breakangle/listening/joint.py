"""The joint fit: all partials at once, each with its own pitch, decay and amplitude, one glide shared by all.

Model of partial n at baseband, with E(t) the glide's extra time and nu_n the carrier:
    z_n(t) = exp(2 pi i (f_n T(t) - nu_n t))
             [a_n exp(-alpha_n t) + b_n exp(-beta_n t + 2 pi i delta f_n T(t))] + hum + noise,
    T(t) = t + c E(t).
Complex amplitudes are eliminated in closed form (variable projection, Golub and Pereyra 1973, SIAM J. Numer.
Anal. 10, 413); what is left is solved by damped Gauss-Newton steps in which every partial's own unknowns are
eliminated first, so that the cost grows only linearly with the number of partials.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.glide import lag, lag_slope
from breakangle.listening.partials import Bands

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

SIZE_UNIT = 1e-3  # glide and detuning are solved in thousandths, so that all unknowns are of like size


@dataclass(frozen=True)
class Shape:
    """The unknowns of the joint fit.

    Attributes:
        log_pitch: ln(f_n / carrier), shape (partials,).
        decay: alpha_n per second, shape (partials,).
        second_decay: beta_n per second, shape (partials,); unused with one line.
        glide: relative rise of pitch at the pluck, >= 0; 0 with `free_glide` false means none.
        glide_rate: its decay per second.
        detuning: relative distance of the second polarisation; 0 means one line.
    """

    log_pitch: FloatArray
    decay: FloatArray
    second_decay: FloatArray
    glide: float = 0.0
    glide_rate: float = 2.0
    detuning: float = 0.0


@dataclass(frozen=True)
class Prior:
    """What is known of the glide before listening: spread of its size, centre and spread of ln rate."""

    free: bool = True
    glide_spread: float = 0.006
    log_rate: float = 0.7
    log_rate_spread: float = 1.0
    decay_spread: float = 1.0


@dataclass(frozen=True)
class Solution:
    """A solved joint fit.

    Attributes:
        shape: the unknowns.
        covariance: of `log_pitch`, shape (partials, partials), for the noise seen in the residual.
        residual: complex, shape (partials, frames).
        model: complex, the fitted string without hum, shape (partials, frames).
        lines: complex amplitudes of the lines at the pluck, shape (partials, lines).
        cost: weighted sum of squares over `noise`.
        glide_spread: standard error of the glide.
    """

    shape: Shape
    covariance: FloatArray
    residual: ComplexArray
    model: ComplexArray
    lines: ComplexArray
    cost: float
    glide_spread: float


def _columns(bands: Bands, shape: Shape, hum: ComplexArray) -> tuple[ComplexArray, FloatArray]:
    """Linear columns, shape (partials, frames, lines + hum), and phase time 2 pi f_n T(t), shape (partials,
    frames)."""
    t = bands.time_s
    f = bands.carrier_hz * np.exp(shape.log_pitch)
    warped = t + shape.glide * lag(t, shape.glide_rate)
    turn = 2 * np.pi * f[:, None] * warped
    base = np.exp(1j * (turn - 2 * np.pi * bands.carrier_hz[:, None] * t))
    lines = [base * np.exp(-shape.decay[:, None] * t)]
    if shape.detuning != 0.0:
        lines.append(base * np.exp(-shape.second_decay[:, None] * t + 1j * shape.detuning * turn))
    return np.concatenate([np.stack(lines, axis=2), hum], axis=2), turn


def _amplitudes(columns: ComplexArray, values: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    """Best complex amplitudes, shape (partials, columns), and the inverse Gram matrices that gave them."""
    hermitian = np.conj(np.swapaxes(columns, 1, 2))
    gram = hermitian @ columns
    size = columns.shape[2]
    trace = np.abs(np.trace(gram, axis1=1, axis2=2))[:, None, None]
    inverse = np.linalg.inv(gram + (1e-10 * trace + 1e-300) * np.eye(size))
    return (inverse @ (hermitian @ values[:, :, None]))[:, :, 0], inverse


def _slopes(
    bands: Bands,
    shape: Shape,
    columns: ComplexArray,
    turn: FloatArray,
    amplitude: ComplexArray,
    free_glide: bool,
) -> tuple[ComplexArray, ComplexArray]:
    """Derivatives of the model: by each partial's own unknowns and by the shared ones; (partials, frames,
    unknowns)."""
    t = bands.time_s
    two = shape.detuning != 0.0
    first = columns[:, :, 0] * amplitude[:, 0, None]
    second = columns[:, :, 1] * amplitude[:, 1, None] if two else np.zeros_like(first)
    together = first + (1 + shape.detuning) * second
    own = [1j * turn * together, -t * first]
    shared = []
    if free_glide:
        f = 2 * np.pi * bands.carrier_hz * np.exp(shape.log_pitch)
        shared.append(1j * SIZE_UNIT * f[:, None] * lag(t, shape.glide_rate) * together)
        shared.append(1j * shape.glide * f[:, None] * lag_slope(t, shape.glide_rate) * together)
    if two:
        own.append(-t * second)
        shared.append(1j * SIZE_UNIT * turn * second)
    empty = np.zeros((*first.shape, 0), dtype=complex)
    return np.stack(own, axis=2), np.stack(shared, axis=2) if shared else empty


@dataclass(frozen=True)
class _Normal:
    """Normal equations, the partials' own unknowns apart from the shared ones."""

    own: FloatArray
    cross: FloatArray
    shared: FloatArray
    own_pull: FloatArray
    shared_pull: FloatArray


def _normal(own: ComplexArray, shared: ComplexArray, residual: ComplexArray, weight: FloatArray) -> _Normal:
    """Weighted normal equations of the projected derivatives."""
    own_h = np.conj(np.swapaxes(own, 1, 2)) * weight[:, None, None]
    shared_h = np.conj(np.swapaxes(shared, 1, 2)) * weight[:, None, None]
    return _Normal(
        (own_h @ own).real,
        (own_h @ shared).real,
        (shared_h @ shared).real.sum(axis=0),
        (own_h @ residual[:, :, None]).real[:, :, 0],
        (shared_h @ residual[:, :, None]).real[:, :, 0].sum(axis=0),
    )


def _with_prior(normal: _Normal, shape: Shape, prior: Prior) -> _Normal:
    """The normal equations with the prior on glide, rate and the two lines' decays added."""
    shared, pull = normal.shared.copy(), normal.shared_pull.copy()
    if prior.free:
        precision = (SIZE_UNIT / prior.glide_spread) ** 2
        shared[0, 0] += precision
        pull[0] -= precision * shape.glide / SIZE_UNIT
        shared[1, 1] += 1 / prior.log_rate_spread**2
        pull[1] += (prior.log_rate - np.log(shape.glide_rate)) / prior.log_rate_spread**2
    own, own_pull = normal.own, normal.own_pull
    if shape.detuning != 0.0:
        own, own_pull = own.copy(), own_pull.copy()
        tie = 1 / prior.decay_spread**2
        apart = shape.second_decay - shape.decay
        for a, b, sign in ((1, 1, 1), (2, 2, 1), (1, 2, -1), (2, 1, -1)):
            own[:, a, b] += sign * tie
        own_pull[:, 1] += tie * apart
        own_pull[:, 2] -= tie * apart
    return _Normal(own, normal.cross, shared, own_pull, pull)


def _step(normal: _Normal, damping: float) -> tuple[FloatArray, FloatArray]:
    """Damped Gauss-Newton step: own unknowns (partials, own) and shared unknowns (shared,)."""
    size = normal.own.shape[1]
    diagonal = np.einsum("nii->ni", normal.own)
    own = normal.own + np.eye(size) * (damping * diagonal + 1e-12 * diagonal.max() + 1e-300)[:, None, :]
    inverse = np.linalg.inv(own)
    lift = inverse @ normal.cross
    count = normal.shared.shape[0]
    if count:
        schur = normal.shared * (1 + damping * np.eye(count)) - np.einsum("nik,nil->kl", normal.cross, lift)
        schur += np.eye(count) * 1e-12 * max(np.trace(normal.shared), 1e-300)
        pull = normal.shared_pull - np.einsum("nik,ni->k", lift, normal.own_pull)
        shared = np.linalg.solve(schur, pull)
    else:
        shared = np.zeros(0)
    return np.einsum("nij,nj->ni", inverse, normal.own_pull) - lift @ shared, shared


def _moved(shape: Shape, own: FloatArray, shared: FloatArray, free_glide: bool) -> Shape:
    """The shape after a step, kept inside what a string can do."""
    pitch = shape.log_pitch + np.clip(own[:, 0], -2e-3, 2e-3)
    decay = np.clip(shape.decay + np.clip(own[:, 1], -3, 3), -0.5, 60)
    moved = replace(shape, log_pitch=pitch, decay=decay)
    if free_glide:
        glide = float(np.clip(shape.glide + SIZE_UNIT * np.clip(shared[0], -4, 4), 1e-7, 0.05))
        rate = float(np.clip(shape.glide_rate * np.exp(np.clip(shared[1], -0.7, 0.7)), 0.3, 20))
        moved = replace(moved, glide=glide, glide_rate=rate)
    if shape.detuning != 0.0:
        second = np.clip(shape.second_decay + np.clip(own[:, 2], -3, 3), -0.5, 60)
        apart = shape.detuning + SIZE_UNIT * float(np.clip(shared[-1], -0.5, 0.5))
        sign = np.sign(shape.detuning)
        moved = replace(moved, second_decay=second, detuning=float(sign * np.clip(sign * apart, 2e-5, 4e-3)))
    return moved


@dataclass(frozen=True)
class _State:
    """A shape with everything that follows from it."""

    shape: Shape
    columns: ComplexArray
    turn: FloatArray
    amplitude: ComplexArray
    inverse: ComplexArray
    residual: ComplexArray
    cost: float


def _evaluate(bands: Bands, shape: Shape, hum: ComplexArray, weight: FloatArray, prior: Prior) -> _State:
    """Residual and penalised cost of a shape."""
    columns, turn = _columns(bands, shape, hum)
    amplitude, inverse = _amplitudes(columns, bands.values)
    residual = bands.values - (columns @ amplitude[:, :, None])[:, :, 0]
    cost = float(np.sum(weight[:, None] * np.abs(residual) ** 2))
    if prior.free:
        cost += (shape.glide / prior.glide_spread) ** 2
        cost += ((np.log(shape.glide_rate) - prior.log_rate) / prior.log_rate_spread) ** 2
    if shape.detuning != 0.0:
        cost += float(np.sum(((shape.second_decay - shape.decay) / prior.decay_spread) ** 2))
    return _State(shape, columns, turn, amplitude, inverse, residual, cost)


def _equations(bands: Bands, state: _State, weight: FloatArray, prior: Prior) -> _Normal:
    """Normal equations at a state, amplitudes projected out."""
    own, shared = _slopes(bands, state.shape, state.columns, state.turn, state.amplitude, prior.free)
    hermitian = np.conj(np.swapaxes(state.columns, 1, 2))
    own = own - state.columns @ (state.inverse @ (hermitian @ own))
    shared = shared - state.columns @ (state.inverse @ (hermitian @ shared))
    return _with_prior(_normal(own, shared, state.residual, weight), state.shape, prior)


def solve(
    bands: Bands, start: Shape, hum: ComplexArray, noise: FloatArray, prior: Prior, steps: int = 25
) -> Solution:
    """The joint fit's solution from a start shape.

    Args:
        bands: partials at baseband.
        start: first guess; its `detuning` decides between one line and two.
        hum: fixed columns of mains hum in each band, shape (partials, frames, hums), possibly none.
        noise: standard deviation of each partial's residual to weigh by, shape (partials,).
        prior: what is known of the glide.
        steps: most Gauss-Newton steps.
    """
    weight = 1 / (noise**2 * bands.correlation_ratio)
    state = _evaluate(bands, start, hum, weight, prior)
    damping = 1e-3
    for _ in range(steps):
        normal = _equations(bands, state, weight, prior)
        improved = False
        for _ in range(5):
            own, shared = _step(normal, damping)
            trial = _evaluate(bands, _moved(state.shape, own, shared, prior.free), hum, weight, prior)
            if trial.cost < state.cost:
                gain, state, improved = state.cost - trial.cost, trial, True
                damping = max(damping / 6, 1e-9)
                break
            damping *= 8
        if not improved or gain < 1e-4 * max(1.0, 1e-2 * state.cost):
            break
    return _finish(bands, state, weight, prior)


def _finish(bands: Bands, state: _State, weight: FloatArray, prior: Prior) -> Solution:
    """Covariances at the solution, by the Schur complement of the shared unknowns."""
    normal = _equations(bands, state, weight, prior)
    size = normal.own.shape[1]
    diagonal = np.einsum("nii->ni", normal.own)
    inverse = np.linalg.inv(normal.own + np.eye(size) * (1e-10 * diagonal + 1e-300)[:, None, :])
    lift = inverse @ normal.cross
    covariance = np.diag(inverse[:, 0, 0])
    spread = 0.0
    if normal.shared.shape[0]:
        schur = normal.shared - np.einsum("nik,nil->kl", normal.cross, lift)
        common = np.linalg.pinv(schur, hermitian=True)
        covariance = covariance + lift[:, 0, :] @ common @ lift[:, 0, :].T
        spread = float(SIZE_UNIT * np.sqrt(max(common[0, 0], 0))) if prior.free else 0.0
    lines = 1 if state.shape.detuning == 0.0 else 2
    model = (state.columns[:, :, :lines] @ state.amplitude[:, :lines, None])[:, :, 0]
    return Solution(
        state.shape, covariance, state.residual, model, state.amplitude[:, :lines], state.cost, spread
    )
