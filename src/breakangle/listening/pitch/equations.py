"""The joint fit's model, its slopes and its normal equations, at one set of unknowns.

Model of partial n at baseband, with E(t) the glide's extra time and nu_n the carrier:
    z_n(t) = exp(2 pi i (f_n T(t) - nu_n t))
             [a_n exp(-alpha_n t) + b_n exp(-beta_n t + 2 pi i delta (1 + u_n) f_n T(t))] + hum + noise,
    T(t) = t + c E(t).
Complex amplitudes are eliminated in closed form (variable projection, Golub and Pereyra 1973, SIAM J. Numer.
Anal. 10, 413); every partial's own unknowns are kept apart from the shared ones, so that the cost grows only
linearly with the number of partials.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.glide import lag, lag_slope
from breakangle.listening.pitch.partials import Bands

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

# Chosen: how the computation goes, nothing of an instrument.
SIZE_UNIT = 1e-3  # glide and detuning are solved in thousandths, so that all unknowns are of like size


@dataclass(frozen=True)
class Shape:
    """The unknowns of the joint fit.

    Attributes:
        log_pitch: ln(f_n / carrier), shape (partials,).
        decay: alpha_n per second, shape (partials,).
        second_decay: beta_n per second, shape (partials,); unused with one line.
        uneven: u_n, how far each partial's second line is from the common distance, relative to it, shape
            (partials,); unused with one line.
        glide: relative rise of pitch at the pluck, >= 0; 0 where the prior does not leave it free means none.
        glide_rate: its decay per second.
        detuning: relative distance of the second polarisation; 0 means one line.
    """

    log_pitch: FloatArray
    decay: FloatArray
    second_decay: FloatArray
    uneven: FloatArray
    glide: float = 0.0
    glide_rate: float = 2.0
    detuning: float = 0.0


@dataclass(frozen=True)
class Prior:
    """What is free, and what is known of it before listening.

    Attributes:
        free: whether there is a glide to find; its size's spread, centre and spread of ln rate.
        distance_free: whether the second polarisation's distance is to be found, or is given.
        decay_spread: how far apart the two lines' decays may be, per second.
        uneven_spread: spread of the partials' own distances about the common one, relative to it.
    """

    free: bool = True
    glide_spread: float = 0.006
    log_rate: float = 0.7
    log_rate_spread: float = 1.0
    distance_free: bool = True
    decay_spread: float = 1.0
    uneven_spread: float = 0.2


@dataclass(frozen=True)
class Problem:
    """What a fit is made on: bands, phase of their carriers, hum as fixed rows, weights, prior."""

    bands: Bands
    carrier_turn: FloatArray
    hum: ComplexArray
    weight: FloatArray
    prior: Prior


@dataclass(frozen=True)
class State:
    """A shape with everything that follows from it."""

    shape: Shape
    rows: ComplexArray
    turn: FloatArray
    amplitude: ComplexArray
    inverse: ComplexArray
    residual: ComplexArray
    costs: FloatArray

    @property
    def cost(self) -> float:
        """Weighted squares left over and what the prior adds, over all partials."""
        return float(self.costs.sum())


@dataclass(frozen=True)
class Normal:
    """Normal equations, the partials' own unknowns apart from the shared ones."""

    own: FloatArray
    cross: FloatArray
    shared: FloatArray
    own_pull: FloatArray
    shared_pull: FloatArray


def problem_of(bands: Bands, hum: ComplexArray, noise: FloatArray, prior: Prior) -> Problem:
    """The problem to solve, weighed by the standard deviation `noise` of each partial's residual.

    Args:
        bands: partials at baseband.
        hum: fixed rows of mains hum in each band, shape (partials, hums, frames), possibly none.
        noise: shape (partials,).
        prior: what is free and what is known.
    """
    turn = 2 * np.pi * bands.carrier_hz[:, None] * bands.time_s
    return Problem(bands, turn, hum, 1 / (noise**2 * bands.correlation_ratio), prior)


def _rows(problem: Problem, shape: Shape) -> tuple[ComplexArray, FloatArray]:
    """Linear rows, shape (partials, lines + hum, frames), and phase time 2 pi f_n T(t), shape (partials,
    frames)."""
    bands, t = problem.bands, problem.bands.time_s
    warped = t + shape.glide * lag(t, shape.glide_rate) if shape.glide else t
    turn = 2 * np.pi * (bands.carrier_hz * np.exp(shape.log_pitch))[:, None] * warped
    lines = 1 if shape.detuning == 0.0 else 2
    exponent = np.empty((len(turn), lines, len(t)), dtype=complex)
    phase = turn - problem.carrier_turn
    exponent[:, 0].real = -shape.decay[:, None] * t
    exponent[:, 0].imag = phase
    if lines == 2:
        exponent[:, 1].real = -shape.second_decay[:, None] * t
        exponent[:, 1].imag = phase + (shape.detuning * (1 + shape.uneven))[:, None] * turn
    rows = np.exp(exponent, out=exponent)
    return np.concatenate([rows, problem.hum], axis=1) if problem.hum.shape[1] else rows, turn


def evaluate(problem: Problem, shape: Shape) -> State:
    """Residual and penalised cost of a shape, with the best complex amplitudes."""
    rows, turn = _rows(problem, shape)
    conjugate = rows.conj()
    gram = conjugate @ rows.swapaxes(1, 2)
    trace = np.einsum("nii->n", gram).real
    size = np.arange(rows.shape[1])
    gram[:, size, size] += (1e-10 * trace + 1e-300)[:, None]
    inverse = np.asarray(np.linalg.inv(gram), dtype=np.complex128)
    values = problem.bands.values
    amplitude = (inverse @ (conjugate @ values[:, :, None]))[:, :, 0]
    residual = values - (amplitude[:, None, :] @ rows)[:, 0]
    costs = problem.weight * np.einsum("nt,nt->n", residual, residual.conj()).real
    return State(shape, rows, turn, amplitude, inverse, residual, costs + penalty(shape, problem.prior))


def penalty(shape: Shape, prior: Prior) -> FloatArray:
    """What the prior adds to the cost: by each partial's own unknowns, shape (partials,), the shared ones' spread
    over them alike."""
    own = np.zeros(len(shape.decay))
    if shape.detuning != 0.0:
        own = ((shape.second_decay - shape.decay) / prior.decay_spread) ** 2
        if prior.distance_free:
            own = own + (shape.uneven / prior.uneven_spread) ** 2
    if prior.free:
        size = (shape.glide / prior.glide_spread) ** 2
        rate = ((np.log(shape.glide_rate) - prior.log_rate) / prior.log_rate_spread) ** 2
        own = own + (size + rate) / len(own)
    return np.asarray(own)


def _slopes(problem: Problem, state: State) -> tuple[ComplexArray, int]:
    """Derivatives of the model, shape (partials, unknowns, frames), and how many come first that are the
    partials' own."""
    bands, shape, prior = problem.bands, state.shape, problem.prior
    t, turn = bands.time_s, state.turn
    first = state.rows[:, 0] * state.amplitude[:, 0, None]
    together, turned = first, 1j * turn
    slopes = [turned, -t * first]
    if shape.detuning != 0.0:
        second = state.rows[:, 1] * state.amplitude[:, 1, None]
        apart = shape.detuning * (1 + shape.uneven)
        together = first + (1 + apart)[:, None] * second
        slopes.append(-t * second)
        if prior.distance_free:
            slopes.append(shape.detuning * turned * second)
    slopes[0] = turned * together
    own = len(slopes)
    if prior.free:
        carried = (2j * np.pi * bands.carrier_hz * np.exp(shape.log_pitch))[:, None] * together
        slopes.append(SIZE_UNIT * lag(t, shape.glide_rate) * carried)
        slopes.append(shape.glide * lag_slope(t, shape.glide_rate) * carried)
    if shape.detuning != 0.0 and prior.distance_free:
        slopes.append((SIZE_UNIT * (1 + shape.uneven))[:, None] * turned * second)
    return np.stack(slopes, axis=1), own


def equations(problem: Problem, state: State) -> Normal:
    """Normal equations at a state, amplitudes projected out: of D with the rows C taken away, D*D - D*C (C*C)^-1
    C*D; the residual is at right angles to the rows already."""
    slopes, count = _slopes(problem, state)
    conjugate = slopes.conj()
    onto = conjugate @ state.rows.swapaxes(1, 2)
    square = (conjugate @ slopes.swapaxes(1, 2)).real
    square -= (onto @ state.inverse @ onto.conj().swapaxes(1, 2)).real
    square *= problem.weight[:, None, None]
    pull = (conjugate @ state.residual[:, :, None]).real[:, :, 0] * problem.weight[:, None]
    normal = Normal(
        square[:, :count, :count],
        square[:, :count, count:],
        square[:, count:, count:].sum(axis=0),
        pull[:, :count],
        pull[:, count:].sum(axis=0),
    )
    _add_prior(normal, state.shape, problem.prior)
    return normal


def _add_prior(normal: Normal, shape: Shape, prior: Prior) -> None:
    """Add the prior on glide, rate, the two lines' decays and their distances to the normal equations."""
    if prior.free:
        precision = (SIZE_UNIT / prior.glide_spread) ** 2
        normal.shared[0, 0] += precision
        normal.shared_pull[0] -= precision * shape.glide / SIZE_UNIT
        normal.shared[1, 1] += 1 / prior.log_rate_spread**2
        normal.shared_pull[1] += (prior.log_rate - np.log(shape.glide_rate)) / prior.log_rate_spread**2
    if shape.detuning == 0.0:
        return
    tie = 1 / prior.decay_spread**2
    normal.own[:, 1:3, 1:3] += tie * np.array([[1.0, -1.0], [-1.0, 1.0]])
    apart = tie * (shape.second_decay - shape.decay)
    normal.own_pull[:, 1] += apart
    normal.own_pull[:, 2] -= apart
    if prior.distance_free:
        normal.own[:, 3, 3] += 1 / prior.uneven_spread**2
        normal.own_pull[:, 3] -= shape.uneven / prior.uneven_spread**2
