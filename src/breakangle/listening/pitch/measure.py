"""The pitch of one take: coarse, joint fit, second polarisation where it explains the take, law, honest
spread."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch import coarse, glide, hum, joint
from breakangle.listening.pitch.combine import CENTS, EXPECTED_B, SPREAD_B, Law, combine
from breakangle.listening.pitch.equations import Prior, Shape, problem_of
from breakangle.listening.pitch.partials import Bands, bands_of, stiff_partials, thinned
from breakangle.listening.pitch.second_line import (
    Lines,
    centre_of,
    lines_of,
    own_line_first,
    with_second_line,
)

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

# Where nothing else is said below: chosen; no source; `python -m bench listening_honesty` tells what it costs.
START_S = 0.12
GLIDE_FROM_S = 0.35
TWO_LINES_FROM_S = 0.6
FEWEST_FRAMES = 4
FEWEST_CLEAR = 4
WEAKEST_RATIO = 10 ** (-47 / 20)
KNOWN_B_SPREAD = 1e-6
# Pitch falls with the energy of all partials, which is not quite one exponential: what that leaves open.
GLIDE_DOUBT_RATIO = 0.015
SMALLEST_UNCERTAINTY_CENTS = 0.1
SLOW_SAMPLES, BEATING_RATIO, TOSS_UP_RATIO = 2.0, 0.05, 0.185
# A glide that a clean take does not show is left out: looking for it would only widen the answer.
CLEAN_RATIO = 1.5
GLIDE_SEEN_SPREADS = 2.5
ROUGH_RATIO = 0.02
FINE = 1e-5  # the last fit must come so close that a little more noise does not end it elsewhere


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
        """Standard uncertainty in cents from the take alone: partials, segments, the shape of the glide, and
        where between two lines another pluck would lie."""
        parts = (self.law.spread_cents, GLIDE_DOUBT_RATIO * self.glide_cents, self.lines.doubt_cents)
        return float(np.sqrt(np.sum(np.square(parts))))

    @property
    def lines(self) -> Lines:
        """How the two polarisations compare; all 0 where one line explains the take."""
        return lines_of(self.bands, self.solution.shape, self.solution.lines)

    @property
    def glide_ratio(self) -> float:
        """How fast pitch settles against how fast the string's energy falls; the same (1) on a string left
        alone."""
        return self.solution.shape.glide_rate / self.energy_fall_per_s

    @property
    def energy_fall_per_s(self) -> float:
        """How fast the string's energy falls, per second, at the pluck."""
        return _energy_fall(self.solution.shape, self.bands.order)

    @property
    def glide_was_looked_for(self) -> bool:
        """Whether the window was long enough to follow pitch to where it settles."""
        return self.window_s[1] - self.window_s[0] >= GLIDE_FROM_S

    @property
    def without_hum(self) -> Bands:
        """The partials with the hum that was found taken out, and what the fit left over counted as noise."""
        left = np.mean(np.abs(self.solution.residual) ** 2, axis=1)
        return replace(
            self.bands,
            values=self.solution.model + self.solution.residual,
            noise=np.sqrt(self.bands.noise**2 + left),
        )

    def track(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Times in s, cents above the settled pitch with the glide in it, and weights; shape (steps,) each.

        A second polarisation and hum are taken out.
        """
        model = self.solution.model
        turned = self.without_hum.values * np.conj(model) / np.maximum(np.abs(model), 1e-30)
        time_s, rest, weight = glide.pitch_track(replace(self.bands, values=turned))
        shape = self.solution.shape
        return time_s, CENTS * (rest + shape.glide * np.exp(-shape.glide_rate * time_s)), weight

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
    mains = hum.find_hum(thin, thin_hz, bands)
    rows = hum.hum_rows(bands, mains, length_s)
    level = np.sqrt(np.mean(np.abs(bands.values) ** 2, axis=1))
    strong = (level > 2.5 * bands.noise) & (level > WEAKEST_RATIO * level.max())
    if not strong.any() or len(bands.time_s) < FEWEST_FRAMES:
        return None
    strong = clear_of_hum(bands, strong, mains)
    bands, rows = bands.keep(strong), rows[strong]
    known_b = (known.inharmonicity, KNOWN_B_SPREAD) if known else (EXPECTED_B, SPREAD_B)
    fitted = fit(bands, rows, (start_s, start_s + length_s), settle, known_b)
    return replace(fitted, coarse=first, hum_hz=mains)


def fit(
    bands: Bands,
    hum_rows: ComplexArray,
    window_s: tuple[float, float],
    settle: bool = True,
    known_b: tuple[float, float] = (EXPECTED_B, SPREAD_B),
) -> Pitch:
    """The pitch that partials at baseband tell.

    Args:
        bands: the partials to measure by.
        hum_rows: fixed rows of mains hum in each band, shape (partials, hums, frames), possibly none.
        window_s: piece of the take they are of, in seconds after the pluck.
        settle: whether to follow the pitch to where it settles.
        known_b: what is known of B beforehand, and its spread.
    """
    solution, inflation = _solve(bands, hum_rows, window_s[1] - window_s[0], settle)
    frequency = bands.carrier_hz * np.exp(solution.shape.log_pitch)
    level = np.sqrt(np.mean(np.abs(bands.values) ** 2, axis=1))
    law = combine(frequency, bands.order, solution.covariance * inflation**2, level, known_b)
    law = law.moved(centre_of(solution.shape, lines_of(bands, solution.shape, solution.lines)))
    first = coarse.Coarse(law.fundamental_hz, law.inharmonicity, len(bands.order), 1.0)
    return Pitch(law, solution, bands, first, 0.0, inflation, window_s)


def clear_of_hum(bands: Bands, strong: NDArray[np.bool_], mains_hz: float) -> NDArray[np.bool_]:
    """The partials to measure by: those on which hum lies are left out, as long as enough others are left to tell."""
    if mains_hz <= 0:
        return strong
    off_hz = np.abs(bands.carrier_hz - mains_hz * np.round(bands.carrier_hz / mains_hz))
    clear = strong & ((off_hz >= hum.ON_HUM_HZ) | (bands.carrier_hz > (hum.MULTIPLES + 0.5) * mains_hz))
    return clear if np.sum(clear) >= FEWEST_CLEAR and np.sum(clear) >= np.sum(strong) / 2 else strong


def _start(bands: Bands) -> Shape:
    """First guess of the joint fit from the pitch track and the fall of each partial."""
    time_s, relative, weight = glide.pitch_track(bands)
    settled, size, rate = glide.first_glide(time_s, relative, weight)
    size_log = np.log(np.abs(bands.values) + bands.noise[:, None])
    centred = bands.time_s - bands.time_s.mean()
    slope = -(size_log @ centred) / np.sum(centred**2)
    decay = np.minimum(np.maximum(slope, 0.2), 30.0)
    return Shape(np.full(len(decay), settled), decay, decay, np.zeros(len(decay)), max(size, 1e-6), rate)


def _solve(bands: Bands, rows: ComplexArray, length_s: float, settle: bool) -> tuple[joint.Solution, float]:
    """The joint fit, weighed by the residual it leaves, and how much wider than that its segments scatter."""
    start = _start(bands)
    prior = Prior(free=settle and length_s >= GLIDE_FROM_S)
    if not prior.free:
        start = replace(start, glide=0.0)
    rough = np.maximum(bands.noise, ROUGH_RATIO * np.sqrt(np.mean(np.abs(bands.values) ** 2, axis=1)))
    state = joint.solve(problem_of(bands, rows, rough, prior), start)
    if length_s >= TWO_LINES_FROM_S:
        state = with_second_line(bands, rows, state, prior)
    prior = replace(
        prior, log_rate=float(np.log(_energy_fall(state.shape, bands.order))), log_rate_spread=0.5
    )
    for toss_up_ratio in (np.inf, TOSS_UP_RATIO):
        noise = slow_noise(bands, state.residual, toss_up_ratio)
        problem = problem_of(bands, rows, noise, prior)
        state = own_line_first(problem, joint.solve(problem, state.shape, enough=FINE))
        if toss_up_ratio == np.inf and _left_ratio(bands, state.residual).max() > BEATING_RATIO:
            state = joint.polish(problem, state)
    solution = joint.finish(problem, state)
    clean = float(np.median(noise / bands.noise)) < CLEAN_RATIO
    if prior.free and clean and state.shape.glide < GLIDE_SEEN_SPREADS * solution.glide_spread:
        problem = problem_of(bands, rows, noise, replace(prior, free=False))
        state = joint.solve(problem, replace(state.shape, glide=0.0), steps=8, enough=FINE)
        solution = joint.finish(problem, state)
    return solution, segment_inflation(bands, solution, noise)


def _energy_fall(shape: Shape, order: NDArray[np.int64]) -> float:
    """How fast the energy of the string's stretch falls, per second, at the pluck: that is what pitch falls with.

    Of a plucked string partial n has about 1/n² of it, however loud body and pickup make it.
    """
    return 2 * float(np.average(np.clip(shape.decay, 0.2, 8), weights=1.0 / order.astype(float) ** 2))


def _left_ratio(bands: Bands, residual: ComplexArray) -> FloatArray:
    """Share of each partial's power that the fit left over; shape (partials,)."""
    return np.asarray(np.mean(np.abs(residual) ** 2, axis=1) / np.mean(np.abs(bands.values) ** 2, axis=1))


def slow_noise(bands: Bands, residual: ComplexArray, toss_up_ratio: float) -> FloatArray:
    """Noise of each band, with what the fit left over counted as swinging slowly; shape (partials,).

    Noise gives a fresh sample every frame. What a fit leaves over (beats, bends) swings about twice in a
    take, so it must count as only two samples. And where a line leaves over a fifth of a partial, two lines
    nearly alike are beating there: which of them is fitted is then a toss-up, and the partial must count for
    next to nothing.
    """
    frames = len(bands.time_s)
    excess = np.maximum(np.mean(np.abs(residual) ** 2, axis=1) - 1.5 * bands.noise**2, 0.0)
    tossed = 1 + (_left_ratio(bands, residual) / toss_up_ratio) ** 4
    slow = excess * tossed * frames / SLOW_SAMPLES / bands.correlation_ratio
    return np.asarray(np.sqrt(bands.noise**2 + slow))


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
