"""How fast each partial of a note falls, where its two lines can be told apart, and where they cannot.

Two lines that hardly turn against each other within a take leave their own falls open: a fast fall of the one and a
slow fall of the other explain a level as well as one fall of both and the turning. There the level itself tells.
"""

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.measure import Pitch

FloatArray = NDArray[np.float64]

# Where nothing else is said below: calibrated by `python -m bench listening_decays`.
SLOWEST, FASTEST = 0.05, 60.0  # per second; chosen: what a string can do
# A take's two lines are known where some partial of it comes round so often that its beat is seen to come back. Where
# none does, a slow beat may as well be an ellipse that the string's own tension turns, and two lines are no model of
# that: partials that turn less than half round are then told by their level.
COME_BACK_TURNS, LEAST_TURNS = 2.0, 0.5
OVER_NOISE_RATIO = 4.0  # in power, from where on a moment counts
# How often what a straight line leaves over goes into what a bend explains, before it is believed: 4.5 spreads.
BENT_RATIO = 20.0
FEWEST_SAMPLES = 4.0  # free ones of a level, before it is asked: a bend has three unknowns


def falls_of(pitch: Pitch) -> FloatArray:
    """How fast the amplitude of each partial falls at the pluck, per second; shape (partials,).

    By its lines, each by its power, or where they are not told apart by its level.
    """
    shape, power = pitch.solution.shape, np.abs(pitch.solution.lines) ** 2
    decay = _possible(shape.decay)
    straight, start, bent, told = _level_falls(pitch)
    if power.shape[1] == 1:
        return np.where(bent, start, decay)
    both = (power[:, 0] * decay + power[:, 1] * _possible(shape.second_decay)) / np.maximum(
        power.sum(axis=1), 1e-30
    )
    bands = pitch.bands
    turns = abs(shape.detuning) * bands.carrier_hz * (bands.time_s[-1] - bands.time_s[0])
    open_yet = told & (turns < LEAST_TURNS) & (turns.max() < COME_BACK_TURNS)
    return np.where(open_yet, np.where(bent, start, straight), both)


def _possible(fall: FloatArray) -> FloatArray:
    return np.asarray(np.clip(fall, SLOWEST, FASTEST))


def _level_falls(pitch: Pitch) -> tuple[FloatArray, FloatArray, NDArray[np.bool_], NDArray[np.bool_]]:
    """Fall of each level as a straight line, and at the pluck as a parabola; whether it is bent; whether it can tell.

    Lines let go together start in step, so that they do not turn the level at first: its slope at the pluck is the
    string's own fall, and what they do later bends it. Moments count by their power squared: once because noise moves
    the logarithm of a level by one over its amplitude, once more because a parabola holds only near the pluck.
    Source: derived: d/dt ln|a + b exp(i w t)| is 0 at t = 0 for a, b of one phase, and -a b w^2 / (a + b)^2 t after.
    """
    bands = pitch.bands
    power, noise = np.abs(pitch.without_hum.values) ** 2, bands.noise[:, None] ** 2
    weight = np.where(power > OVER_NOISE_RATIO * noise, power, 0.0) ** 2
    weight = weight / np.maximum(weight.sum(axis=1, keepdims=True), 1e-300)
    nepers = 0.5 * np.log(np.maximum(power - noise, 1e-30))
    samples = 1 / np.maximum(np.sum(weight**2, axis=1), 1e-300) / bands.correlation_ratio
    told = (samples >= FEWEST_SAMPLES) & (np.sum(weight > 0, axis=1) > FEWEST_SAMPLES)
    straight, straight_left = _fitted(bands.time_s, nepers, weight, 1)
    start, bent_left = _fitted(bands.time_s, nepers, weight, 2)
    gain = (straight_left - bent_left) * (samples - 3) / np.maximum(bent_left, 1e-12)
    return _possible(straight), _possible(start), told & (gain > BENT_RATIO), told


def _fitted(
    time_s: FloatArray, nepers: FloatArray, weight: FloatArray, degree: int
) -> tuple[FloatArray, FloatArray]:
    """Fall at the pluck by a polynomial in time, and the weighted mean square left over; shape (partials,) each."""
    rows = np.stack([time_s**power for power in range(degree + 1)])
    normal = np.einsum("nt,it,jt->nij", weight, rows, rows) + 1e-12 * np.eye(degree + 1)
    found = np.linalg.solve(normal, np.einsum("nt,it,nt->ni", weight, rows, nepers)[:, :, None])[:, :, 0]
    return -found[:, 1], np.einsum("nt,nt->n", weight, (nepers - found @ rows) ** 2)
