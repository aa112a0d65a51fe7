"""The pitch of one take: coarse, joint fit, second polarisation where it explains the take, law, honest
spread."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.listening import coarse, glide, hum, joint
from breakangle.listening.combine import CENTS, EXPECTED_B, SPREAD_B, Law, combine
from breakangle.listening.partials import Bands, bands_of, stiff_partials, thinned

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

START_S = 0.12
GLIDE_FROM_S = 0.35
TWO_LINES_FROM_S = 0.9
DETUNINGS_CENTS = (0.3, 0.6, 1.0, 1.6, 2.5)
FEWEST_FRAMES = 4
WEAKEST_RATIO = 10 ** (-47 / 20)
KNOWN_B_SPREAD = 1e-6
# Pitch falls with the energy of all partials, which is not quite one exponential: what that leaves open.
GLIDE_DOUBT_RATIO = 0.015
SMALLEST_UNCERTAINTY_CENTS = 0.1
SLOW_SAMPLES = 2.0
# A glide that a clean take does not show is left out: looking for it would only widen the answer.
CLEAN_RATIO = 1.5
GLIDE_SEEN_SPREADS = 2.5
ROUGH_RATIO = 0.02
LEAST_LEFT_OVER = 15.0
MOST_UNEXPLAINED = 0.04


@dataclass(frozen=True)
class Pitch:
    """What was measured in one take, before anyone judges it.

    Attributes:
        law: partial 1, f0, B and their standard error.
        solution: the joint fit.
        bands: the partials it was made on.
        coarse: the first idea it began from.
        hum_hz: mains frequency found, 0 for none.
        inflation_ratio: how much wider segments scatter than the fit's noise says.
        window_s: piece of the take used, in seconds after the pluck.
    """

    law: Law
    solution: joint.Solution
    bands: Bands
    coarse: coarse.Coarse
    hum_hz: float
    inflation_ratio: float
    window_s: tuple[float, float]

    @property
    def glide_cents(self) -> float:
        """How much above the settled pitch the take began, in cents; 0 where the window is too short to
        tell."""
        return float(CENTS * self.solution.shape.glide)

    @property
    def spread_cents(self) -> float:
        """Standard uncertainty in cents from the take alone: partials, segments, and the shape of the
        glide."""
        return float(np.hypot(self.law.spread_cents, GLIDE_DOUBT_RATIO * self.glide_cents))

    @property
    def uncertainty_cents(self) -> float:
        """Standard uncertainty in cents, never below a tenth of a cent: no real string holds its pitch
        better."""
        return float(np.hypot(self.spread_cents, SMALLEST_UNCERTAINTY_CENTS))


def measure(
    samples: FloatArray,
    rate_hz: float,
    start_s: float,
    known: coarse.Coarse | None = None,
    settle: bool = True,
) -> Pitch | None:
    """Pitch of a piece of sound that begins `start_s` after the pluck; None when nothing in it is periodic.

    Args:
        samples: mono, shape (samples,).
        rate_hz: samples a second.
        start_s: time of the first sample after the pluck.
        known: the note and its B where the rest of the take has told; None finds them.
        settle: whether to follow the pitch to where it settles; without, the pitch is the window's own mean.
    """
    first = known or coarse.coarse_pitch(samples, rate_hz)
    if first is None:
        return None
    length_s = len(samples) / rate_hz
    highest = stiff_partials(first.fundamental_hz, first.inharmonicity, np.array([first.partial_count + 1.0]))
    thin, thin_hz = thinned(samples, rate_hz, float(highest[0]))
    bands = bands_of(thin, thin_hz, start_s, first.fundamental_hz, first.inharmonicity, first.partial_count)
    mains = hum.find_hum(coarse.spectrum_of(thin[: round(2.5 * thin_hz)], thin_hz), bands.carrier_hz)
    columns = hum.hum_columns(bands, mains, length_s)
    level = np.sqrt(np.mean(np.abs(bands.values) ** 2, axis=1))
    strong = (level > 2.5 * bands.noise) & (level > WEAKEST_RATIO * level.max())
    if not strong.any() or len(bands.time_s) < FEWEST_FRAMES:
        return None
    bands, columns = bands.keep(strong), columns[strong]
    solution, inflation = _solve(bands, columns, length_s, settle)
    frequency = bands.carrier_hz * np.exp(solution.shape.log_pitch)
    known_b = (known.inharmonicity, KNOWN_B_SPREAD) if known else (EXPECTED_B, SPREAD_B)
    law = combine(frequency, bands.order, solution.covariance * inflation**2, level[strong], known_b)
    return Pitch(law, solution, bands, first, mains, inflation, (start_s, start_s + length_s))


def _start(bands: Bands) -> joint.Shape:
    """First guess of the joint fit from the pitch track and the fall of each partial."""
    time_s, relative, weight = glide.pitch_track(bands)
    settled, size, rate = glide.first_glide(time_s, relative, weight)
    size_log = np.log(np.abs(bands.values) + bands.noise[:, None])
    centred = bands.time_s - bands.time_s.mean()
    slope = -(size_log @ centred) / np.sum(centred**2)
    decay = np.clip(slope, 0.2, 30.0)
    return joint.Shape(np.full(len(decay), settled), decay, decay, max(size, 1e-6), rate)


def _solve(
    bands: Bands, columns: ComplexArray, length_s: float, settle: bool
) -> tuple[joint.Solution, float]:
    """The joint fit, weighed by the residual it leaves, and how much wider than that its segments scatter."""
    start = _start(bands)
    prior = joint.Prior(free=settle and length_s >= GLIDE_FROM_S)
    if not prior.free:
        start = replace(start, glide=0.0)
    rough = np.maximum(bands.noise, ROUGH_RATIO * np.sqrt(np.mean(np.abs(bands.values) ** 2, axis=1)))
    solution = joint.solve(bands, start, columns, rough, prior)
    if length_s >= TWO_LINES_FROM_S:
        solution = _second_line(bands, columns, solution, prior)
    energy = np.sum(np.abs(solution.lines) ** 2, axis=1)
    fall = 2 * float(np.average(np.clip(solution.shape.decay, 0.2, 8), weights=energy))
    prior = replace(prior, log_rate=float(np.log(fall)), log_rate_spread=0.5)
    for _ in range(2):
        noise = slow_noise(bands, solution)
        solution = joint.solve(bands, solution.shape, columns, noise, prior)
    clean = float(np.median(noise / bands.noise)) < CLEAN_RATIO
    if prior.free and clean and solution.shape.glide < GLIDE_SEEN_SPREADS * solution.glide_spread:
        still = replace(solution.shape, glide=0.0)
        solution = joint.solve(bands, still, columns, noise, replace(prior, free=False), steps=8)
    return solution, segment_inflation(bands, solution, noise)


def slow_noise(bands: Bands, solution: joint.Solution) -> FloatArray:
    """Noise of each band, with what the fit left over counted as swinging slowly; shape (partials,).

    Noise gives a fresh sample every frame. What a fit leaves over (beats, bends) swings about twice in a
    take, so it must count as only two samples.
    """
    left_over = np.mean(np.abs(solution.residual) ** 2, axis=1)
    frames = len(bands.time_s)
    excess = np.maximum(left_over - 1.5 * bands.noise**2, 0.0)
    return np.asarray(np.sqrt(bands.noise**2 + excess * frames / SLOW_SAMPLES / bands.correlation_ratio))


def _second_line(
    bands: Bands, columns: ComplexArray, one: joint.Solution, prior: joint.Prior
) -> joint.Solution:
    """A two-line fit where it explains what one line leaves over, else the one-line fit.

    Real strings beat in ways that two lines at one common distance do not explain; there a second line would
    only add freedom, so it is taken only when what is left over is well above the noise and nearly all of it
    goes away.
    """
    left_over = np.mean(np.abs(one.residual) ** 2, axis=1) / bands.noise**2
    if np.median(np.sort(left_over)[-len(left_over) // 2 :]) < LEAST_LEFT_OVER:
        return one
    noise = np.maximum(bands.noise, 0.002 * np.abs(one.lines[:, 0]))
    trials = []
    half, half_columns = bands.every_second(), columns[:, ::2]  # enough to choose where to begin
    for size in DETUNINGS_CENTS:
        for sign in (-1, 1):
            start = replace(one.shape, detuning=sign * size / CENTS, second_decay=one.shape.decay)
            trials.append(joint.solve(half, start, half_columns, noise, prior, steps=2))
    best = min(trials, key=lambda trial: trial.cost)
    two = joint.solve(bands, best.shape, columns, bands.noise, prior)
    explained = np.mean(np.abs(two.residual) ** 2, axis=1) / bands.noise**2
    return two if np.sum(explained - 1) < MOST_UNEXPLAINED * np.sum(left_over - 1) else one


def segment_inflation(bands: Bands, solution: joint.Solution, noise: FloatArray) -> float:
    """How many times wider the pitch of quarter segments scatters than the fit's own noise says; at least
    1."""
    power = np.maximum(np.abs(solution.model) ** 2, 1e-30)
    phase = np.imag(solution.residual * np.conj(solution.model)) / power
    turn = 2 * np.pi * bands.carrier_hz[:, None]
    weight = power / noise[:, None] ** 2 * 2 / bands.correlation_ratio
    scores = []
    for part in np.array_split(np.arange(len(bands.time_s)), 4):
        if len(part) < 4:
            continue
        w, t = weight[:, part], bands.time_s[part]
        middle = np.sum(w * t, axis=1, keepdims=True) / np.sum(w, axis=1, keepdims=True)
        design = turn * (t - middle)
        scores.append(np.sum(w * design * phase[:, part]) ** 2 / np.sum(w * design**2))
    return float(np.sqrt(max(1.0, np.mean(scores)))) if scores else 2.0
