"""The joint fit: all partials at once, each with its own pitch, decay and amplitude, one glide shared by all.

The model and its normal equations are in `equations`; here they are solved by damped Gauss-Newton steps in
which every partial's own unknowns are eliminated first (Schur complement).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.equations import (
    SIZE_UNIT,
    Normal,
    Problem,
    Shape,
    State,
    equations,
    evaluate,
)

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

# Where nothing else is said below: chosen: how the computation goes, nothing of an instrument.
ENOUGH = 0.01  # what a step must still gain, in squared standard errors, to be worth another
POLISHED = 1e-7  # the same, relative, for a partial fitted alone


@dataclass(frozen=True)
class Solution:
    """A solved joint fit.

    Attributes:
        shape: the unknowns.
        covariance: of `log_pitch`, shape (partials, partials), for the noise seen in the residual.
        residual: complex, shape (partials, frames).
        model: complex, the fitted string without hum, shape (partials, frames).
        lines: complex amplitudes of the lines at the pluck, shape (partials, lines).
        glide_spread: standard error of the glide.
    """

    shape: Shape
    covariance: FloatArray
    residual: ComplexArray
    model: ComplexArray
    lines: ComplexArray
    glide_spread: float


def step(normal: Normal, damping: float | FloatArray) -> tuple[FloatArray, FloatArray]:
    """Damped Gauss-Newton step: own unknowns (partials, own) and shared unknowns (shared,).

    Args:
        normal: the normal equations.
        damping: share of its diagonal added; one for each partial, shape (partials, 1), where nothing is shared.
    """
    diagonal = np.einsum("nii->ni", normal.own)
    own = normal.own.copy()
    at = np.arange(own.shape[1])
    own[:, at, at] += damping * diagonal + 1e-12 * diagonal.max() + 1e-300
    inverse = np.linalg.inv(own)
    alone = (inverse @ normal.own_pull[:, :, None])[:, :, 0]
    if not len(normal.shared):
        return alone, np.zeros(0)
    lift = inverse @ normal.cross
    schur = normal.shared - np.einsum("nik,nil->kl", normal.cross, lift)
    every = np.arange(len(schur))
    raised = damping * normal.shared[every, every] + 1e-12 * max(float(np.trace(normal.shared)), 1e-300)
    schur[every, every] += raised
    shared = np.linalg.solve(schur, normal.shared_pull - np.einsum("nik,ni->k", lift, normal.own_pull))
    return alone - lift @ shared, shared


def _held(value: FloatArray, most: float) -> FloatArray:
    """Values held within plus or minus `most`."""
    return np.minimum(np.maximum(value, -most), most)


def _within(value: float, low: float, high: float) -> float:
    """A number held within limits."""
    return min(max(float(value), low), high)


def moved(problem: Problem, shape: Shape, own: FloatArray, shared: FloatArray) -> Shape:
    """The shape after a step, kept inside what a string can do."""
    pitch = shape.log_pitch + _held(own[:, 0], 2e-3)
    decay = np.minimum(np.maximum(shape.decay + _held(own[:, 1], 3), -0.5), 60)
    second, uneven, glide, rate, apart = (
        shape.second_decay, shape.uneven, shape.glide, shape.glide_rate, shape.detuning
    )  # fmt: skip
    if problem.prior.free:
        glide = _within(glide + SIZE_UNIT * _within(shared[0], -4, 4), 1e-7, 0.05)
        rate = _within(rate * np.exp(_within(shared[1], -0.7, 0.7)), 0.3, 20)
    if apart != 0.0:
        second = np.minimum(np.maximum(second + _held(own[:, 2], 3), -0.5), 60)
        if problem.prior.distance_free:
            uneven = _held(uneven + _held(own[:, 3], 0.3), 0.9)
            sign = np.sign(apart)
            apart = sign * _within(sign * (apart + SIZE_UNIT * _within(shared[-1], -0.5, 0.5)), 2e-5, 4e-3)
    return Shape(pitch, decay, second, uneven, glide, rate, float(apart))


def solve(problem: Problem, start: Shape, steps: int = 25, enough: float = ENOUGH) -> State:
    """The state where damped steps from a start shape gain no more; `start.detuning` decides between one line
    and two."""
    state = evaluate(problem, start)
    damping = 1e-3
    for _ in range(steps):
        normal = equations(problem, state)
        improved = False
        for _ in range(5):
            trial = evaluate(problem, moved(problem, state.shape, *step(normal, damping)))
            if trial.cost < state.cost:
                gain, state, improved = state.cost - trial.cost, trial, True
                damping = max(damping / 6, 1e-9)
                break
            damping *= 8
        if not improved or gain < enough * max(1.0, 1e-2 * state.cost):
            break
    return state


def polish(problem: Problem, state: State, steps: int = 15) -> State:
    """The state with every partial fitted to the end on its own, what they share held as it is.

    In a joint step one badly beating partial may hold all others back, or be left half way.
    """
    prior = replace(problem.prior, free=False, distance_free=False)
    alone = replace(problem, prior=prior)
    state = evaluate(alone, state.shape)
    damping = np.full((len(state.costs), 1), 1e-3)
    for _ in range(steps):
        trial = evaluate(alone, moved(alone, state.shape, *step(equations(alone, state), damping)))
        better = trial.costs < state.costs
        gain = np.max(np.where(better, 1 - trial.costs / state.costs, 0.0))
        damping = np.where(better[:, None], damping / 6, damping * 8)
        state = evaluate(alone, _chosen(better, trial.shape, state.shape))
        if gain < POLISHED and better.any():
            break
    return evaluate(problem, state.shape)


def _chosen(better: NDArray[np.bool_], new: Shape, old: Shape) -> Shape:
    """The new shape's own unknowns where it is better, else the old one's."""
    return replace(
        old,
        log_pitch=np.where(better, new.log_pitch, old.log_pitch),
        decay=np.where(better, new.decay, old.decay),
        second_decay=np.where(better, new.second_decay, old.second_decay),
    )


def finish(problem: Problem, state: State) -> Solution:
    """The solution at a state, with covariances by the Schur complement of the shared unknowns."""
    normal = equations(problem, state)
    at = np.arange(normal.own.shape[1])
    own = normal.own.copy()
    own[:, at, at] += 1e-10 * np.einsum("nii->ni", own) + 1e-300
    inverse = np.linalg.inv(own)
    covariance = np.diag(inverse[:, 0, 0])
    spread = 0.0
    if len(normal.shared):
        lift = inverse @ normal.cross
        schur = normal.shared - np.einsum("nik,nil->kl", normal.cross, lift)
        common = np.linalg.pinv(schur, hermitian=True)
        covariance = covariance + lift[:, 0, :] @ common @ lift[:, 0, :].T
        spread = float(SIZE_UNIT * np.sqrt(max(common[0, 0], 0))) if problem.prior.free else 0.0
    lines = 1 if state.shape.detuning == 0.0 else 2
    amplitude = state.amplitude[:, :lines]
    model = (amplitude[:, None, :] @ state.rows[:, :lines])[:, 0]
    return Solution(state.shape, covariance, state.residual, model, amplitude, spread)


def swapped(state: State) -> Shape:
    """The shape with the two lines' parts exchanged: the second one becomes the string's own."""
    shape = state.shape
    apart = shape.detuning * (1 + shape.uneven)
    back = -shape.detuning / (1 + shape.detuning)
    return replace(
        shape,
        log_pitch=shape.log_pitch + np.log1p(apart),
        decay=shape.second_decay,
        second_decay=shape.decay,
        uneven=(1 / (1 + apart) - 1) / back - 1,
        detuning=back,
    )
