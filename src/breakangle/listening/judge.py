"""One take, judged: the window used, its pitch, and every reason to doubt or refuse it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening import coarse, glide
from breakangle.listening.combine import CENTS
from breakangle.listening.measure import START_S, Pitch, measure
from breakangle.listening.partials import Bands, stiff_partials
from breakangle.listening.reasons import Reason, Verdict, reason, verdict_of

FloatArray = NDArray[np.float64]

LONGEST_S = 3.0
SHORTEST_S = 0.2
DOUBT_BELOW_S = 0.4
RECORD_S = 0.85
TAIL_RATIO = 4e-4
LEVEL_HOP_S = 0.05
SPECTRUM_S = 1.5
ODD_DIP = -1.4  # nepers, -12 dB
MOST_RISE_CENTS = 1.0
STEADY_PER_S = 0.08  # every plucked string dies away faster than this


@dataclass(frozen=True)
class Judged:
    """A take's pitch with its verdict.

    Attributes:
        pitch: what was measured; None when there is nothing to measure or the take is refused for being no
            string.
        reasons: everything wrong with it.
        window_s: piece used, in seconds after the pluck.
    """

    pitch: Pitch | None
    reasons: tuple[Reason, ...]
    window_s: tuple[float, float]

    @property
    def verdict(self) -> Verdict:
        """Good, doubtful or refused."""
        return verdict_of(self.reasons)


@dataclass(frozen=True)
class Evidence:
    """What the checks look at: the window's samples, pitch, level every 50 ms (mean squares) and spectrum."""

    samples: FloatArray
    rate_hz: float
    pitch: Pitch
    level: FloatArray
    spectrum: coarse.Spectrum


def levels(samples: FloatArray, rate_hz: float) -> FloatArray:
    """Mean square of each 50 ms; shape (pieces,)."""
    hop = round(LEVEL_HOP_S * rate_hz)
    count = len(samples) // hop
    return np.asarray(np.mean(samples[: count * hop].reshape(count, hop) ** 2, axis=1))


def usable(samples: FloatArray, rate_hz: float) -> FloatArray:
    """The window of a take: from 0.12 s after the pluck, at most 3 s, until the sound is 34 dB down."""
    window = samples[round(START_S * rate_hz) : round((START_S + LONGEST_S) * rate_hz)]
    level = levels(window, rate_hz)
    if len(level) < 4:
        return window
    gone = np.flatnonzero(level < TAIL_RATIO * level[:4].max())
    return window[: int(gone[0] * round(LEVEL_HOP_S * rate_hz))] if len(gone) else window


def judge(samples: FloatArray, rate_hz: float) -> Judged:
    """The take whose pluck is the first sample, measured and judged.

    Args:
        samples: mono, full scale 1, from the pluck to the end of the take, shape (samples,).
        rate_hz: samples a second.
    """
    window = usable(samples, rate_hz)
    length_s = len(window) / rate_hz
    span = (START_S, START_S + length_s)
    if length_s < SHORTEST_S:
        return Judged(None, (reason("too-short", True),), span)
    pitch = measure(window, rate_hz, START_S)
    if pitch is None:
        return Judged(None, (reason("not-a-string", True),), span)
    spectrum = coarse.spectrum_of(window[: round(SPECTRUM_S * rate_hz)], rate_hz)
    evidence = Evidence(window, rate_hz, pitch, levels(window, rate_hz), spectrum)
    found = [check(evidence) for check in CHECKS]
    reasons = tuple(one for one in found if one is not None)
    no_string = any(one.code == "not-a-string" and one.refuses for one in reasons)
    return Judged(None if no_string else pitch, reasons, span)


def not_a_string(evidence: Evidence) -> Reason | None:
    """Speech, handling, noise: hardly periodic, partials off any string's law, or louder later than at
    first."""
    pitch = evidence.pitch
    level = evidence.level
    third = max(1, len(level) // 3)
    swells = float(level[-third:].mean() / max(level[:third].mean(), 1e-30))
    if pitch.coarse.periodic_ratio < 0.5 or pitch.law.scatter_cents > 8 or swells > 1.5:
        return reason("not-a-string", True)
    share = harmonic_share(evidence)
    if share < 0.3:
        return reason("not-a-string", True)
    if pitch.coarse.periodic_ratio < 0.75 or pitch.law.scatter_cents > 4 or share < 0.6:
        return reason("not-a-string", False)
    return None


def harmonic_share(evidence: Evidence) -> float:
    """Share of the window's power that its string model explains, 0 to 1."""
    bands = evidence.pitch.bands
    power = float(np.sum(np.mean(np.abs(bands.values) ** 2, axis=1)) / 2)
    return min(1.0, power / max(float(np.mean(evidence.samples**2)), 1e-30))


def clipped(evidence: Evidence) -> Reason | None:
    """Flat tops: runs of samples at the very largest value."""
    x = np.abs(evidence.samples)
    top = float(x.max())
    flat = x >= top * (1 - 2e-4)
    runs = int(np.sum(flat[2:] & flat[1:-1] & flat[:-2]))
    if runs < 5 and not (top >= 0.999 and int(np.sum(x > 0.995)) > 20):
        return None
    return reason("clipped", runs > 0.01 * len(x))


def too_short(evidence: Evidence) -> Reason | None:
    """Less than half a second is not enough to see pitch settle."""
    length_s = len(evidence.samples) / evidence.rate_hz
    return reason("too-short", False) if length_s < DOUBT_BELOW_S else None


def too_quiet(evidence: Evidence) -> Reason | None:
    """The strongest partial hardly stands above the noise."""
    bands = evidence.pitch.bands
    over = float(np.max(np.sqrt(np.mean(np.abs(bands.values) ** 2, axis=1)) / bands.noise))
    if over < 5:
        return reason("too-quiet", True)
    return reason("too-quiet", False) if over < 12 else None


def mains_hum(evidence: Evidence) -> Reason | None:
    """Hum near the level of the string, or hum that sits on partial 1."""
    pitch = evidence.pitch
    mains = min(
        (50.0, 60.0), key=lambda f: abs(pitch.law.partial_one_hz / f - round(pitch.law.partial_one_hz / f))
    )
    off = pitch.law.partial_one_hz / mains - round(pitch.law.partial_one_hz / mains)
    if abs(off) < 0.003 and abs(float(np.median(pitch.solution.shape.decay))) < STEADY_PER_S:
        return reason("hum", True)
    if pitch.hum_hz <= 0:
        return None
    power = _power_at(evidence, pitch.hum_hz * np.arange(1.0, 9.0))
    string = float(np.sum(np.mean(np.abs(pitch.bands.values) ** 2, axis=1)))
    ratio = power / max(string, 1e-30)
    if ratio > 0.5:
        return reason("hum", True)
    return reason("hum", False) if ratio > 0.02 else None


def _power_at(evidence: Evidence, frequency_hz: FloatArray) -> float:
    """Summed squared amplitude of the peaks at fixed frequencies that are clear of the partials."""
    partials = evidence.pitch.bands.carrier_hz
    spectrum = evidence.spectrum
    clear = [f for f in frequency_hz if np.min(np.abs(partials - f)) > 2.0]
    peaks = np.exp([coarse.peak_near(spectrum, float(f), spectrum.hz_per_bin)[2] for f in clear])
    return float(np.sum((2 * peaks / spectrum.window_sum) ** 2))


def second_string(evidence: Evidence) -> Reason | None:
    """Strong peaks that belong to no partial of this string and to no mains hum."""
    pitch = evidence.pitch
    spectrum = evidence.spectrum
    law = pitch.law
    order = np.arange(1, 60, dtype=float)
    partials = stiff_partials(law.fundamental_hz, law.inharmonicity, order)
    top = min(int(3000 / spectrum.hz_per_bin), len(spectrum.log_magnitude) - 1)
    frequency = np.arange(top) * spectrum.hz_per_bin
    level = spectrum.log_magnitude[:top].copy()
    reach = np.minimum(np.maximum(0.01 * partials, 5.0), 0.3 * law.fundamental_hz)
    for centre, width in zip(partials, reach, strict=True):
        level[np.abs(frequency - centre) < width] = -np.inf
    if pitch.hum_hz > 0:
        for k in range(1, 17):
            level[np.abs(frequency - k * pitch.hum_hz) < 3.0] = -np.inf
    level[frequency < 22] = -np.inf
    level[1:-1][(level[1:-1] <= level[:-2]) | (level[1:-1] < level[2:])] = -np.inf
    strongest = float(spectrum.log_magnitude[:top].max())
    stray = float(level.max()) - strongest
    if octave_pair(pitch.bands):
        return reason("second-string", False)
    if stray > np.log(0.3):
        return reason("second-string", True)
    return reason("second-string", False) if stray > np.log(0.06) else None


def octave_pair(bands: Bands) -> bool:
    """Whether the odd partials are all so weak that a string an octave higher may be what rings, over a
    faint lower one.

    No place to pluck or to listen weakens all odd partials of a string; a second string an octave up
    strengthens all even ones.
    """
    level = dict(
        zip(bands.order.tolist(), np.log(np.mean(np.abs(bands.values) ** 2, axis=1)) / 2, strict=True)
    )
    dips = [
        level[n] - (level[n - 1] if n > 1 else level[n + 1]) / 2 - level[n + 1] / 2
        for n in (1, 3, 5, 7)
        if n in level and n + 1 in level and (n == 1 or n - 1 in level)
    ]
    evens = sum(n % 2 == 0 for n in level)
    missing = evens - sum(n % 2 == 1 for n in level)
    return (len(dips) >= 2 and float(np.median(dips)) < ODD_DIP) or missing >= 3


def beating(evidence: Evidence) -> Reason | None:
    """Partials that swell and fall: what one decaying line leaves over is not small, or two lines are near
    alike."""
    pitch = evidence.pitch
    solution = pitch.solution
    power = np.mean(np.abs(pitch.bands.values) ** 2, axis=1)
    if solution.lines.shape[1] == 2:
        size = np.abs(solution.lines)
        ratio = float(np.average(np.minimum(size[:, 1] / size[:, 0], size[:, 0] / size[:, 1]), weights=power))
        if ratio > 0.6:
            return reason("beating", False)
    left_over = np.mean(np.abs(solution.residual) ** 2, axis=1)
    ratio = float(np.sum(np.maximum(left_over - pitch.bands.noise**2, 0)) / np.sum(power))
    if ratio > 0.3:
        return reason("beating", True)
    return reason("beating", False) if ratio > 0.04 else None


def second_pluck(evidence: Evidence) -> Reason | None:
    """The level rises again by more than two decibels over 0.15 s, or falls away at once."""
    level = np.log(np.maximum(evidence.level, 1e-30))
    if len(level) < 8:
        return None
    smooth = np.convolve(level, np.ones(3) / 3, "valid")
    rise = float(np.max(smooth[3:] - smooth[:-3]))
    fall = float(np.min(np.diff(level[: len(level) - 1])))
    if rise > 1.4 or fall < -2.5:
        return reason("second-pluck", True)
    return reason("second-pluck", False) if rise > 0.6 or fall < -1.2 else None


def drifting(evidence: Evidence) -> Reason | None:
    """Pitch that moves in a way no settling string does: upward, or far, or still moving late in the take."""
    pitch = evidence.pitch
    time_s, relative, weight = glide.pitch_track(pitch.bands, pitch.solution.shape.log_pitch)
    shape = pitch.solution.shape
    cents = CENTS * (relative - shape.glide * np.exp(-shape.glide_rate * time_s))
    parts = np.array_split(np.arange(len(cents)), 5 if len(cents) >= 25 else 3)
    means = np.array([np.average(cents[part], weights=weight[part]) for part in parts])
    wander = float(np.ptp(means))
    rise = float(means[-1] - means[0])  # a settling string never climbs
    late = float(CENTS * shape.glide * np.exp(-shape.glide_rate * time_s[len(time_s) // 2]))
    if wander > 12 or pitch.glide_cents > 45 or late > 12:
        return reason("drifting", True)
    doubtful = wander > 3 or rise > MOST_RISE_CENTS or pitch.glide_cents > 15 or late > 4
    return reason("drifting", False) if doubtful else None


def unsure(evidence: Evidence) -> Reason | None:
    """The take's own spread is too wide to be of use; a short take must be clearer than a long one."""
    spread = evidence.pitch.spread_cents
    if spread > 4:
        return reason("unsure", True)
    most = 0.8 if len(evidence.samples) > RECORD_S * evidence.rate_hz else 0.4
    return reason("unsure", False) if spread > most else None


CHECKS: tuple[Callable[[Evidence], Reason | None], ...] = (
    not_a_string,
    clipped,
    too_short,
    too_quiet,
    mains_hum,
    second_string,
    beating,
    second_pluck,
    drifting,
    unsure,
)
