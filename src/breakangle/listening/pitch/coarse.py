"""A first idea of pitch and stiffness: autocorrelation for the octave, spectral peaks for the partials."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.partials import thinned

FloatArray = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench listening_honesty` tells what it costs.
LOWEST_HZ, HIGHEST_HZ = 26.0, 2800.0
MOST_PARTIALS = 14
HIGHEST_PARTIAL = 15.5  # as a multiple of f0: partial 14 of a stiff string
PERIODS_TO_TELL = 10
PEAK_OVER_FLOOR = 5.0
FAINTEST = -6.4  # nepers, -56 dB below the strongest partial: such partials tell nothing
FLOOR_BLOCK_HZ = 340.0
QUIETEST_BETWEEN = -4.0  # nepers, -35 dB: weaker partials in between belong to something else


@dataclass(frozen=True)
class Coarse:
    """First idea of a note: f0 in Hz and B of the stiff-string law, partials seen, how periodic (0 to 1)."""

    fundamental_hz: float
    inharmonicity: float
    partial_count: int
    periodic_ratio: float


def autocorrelation(samples: FloatArray, longest: int) -> FloatArray:
    """Normalised autocorrelation, -1 to 1, at lags 0..longest-1.

    Source: McLeod and Wyvill (2005), "A smarter way to find pitch", Proc. ICMC: twice the product over the
        sum of squares.
    """
    count = len(samples)
    size = 1 << int(np.ceil(np.log2(count + longest)))
    spectrum = np.fft.rfft(samples, size)
    product = np.fft.irfft(np.abs(spectrum) ** 2, size)[:longest]
    squares = np.concatenate([[0.0], np.cumsum(samples**2)])
    lag = np.arange(longest)
    energy = squares[count - lag] + squares[count] - squares[lag]
    return np.asarray(2 * product / np.maximum(energy, 1e-30))


def period_of(samples: FloatArray, rate_hz: float) -> tuple[float, float]:
    """Period in seconds (0 when there is none) and height of the autocorrelation there."""
    longest = min(int(rate_hz / LOWEST_HZ) + 2, len(samples) * 2 // 3)
    values = autocorrelation(samples - samples.mean(), longest)
    below = np.flatnonzero(values < 0)
    first = max(below[0] if len(below) else longest, int(rate_hz / HIGHEST_HZ))
    inner = values[first : longest - 1]
    if len(inner) < 3:
        return 0.0, 0.0
    peaks = first + 1 + np.flatnonzero((inner[1:-1] >= inner[:-2]) & (inner[1:-1] > inner[2:]))
    best = float(values[peaks].max(initial=0.0))
    if best <= 0:
        return 0.0, 0.0
    lag = int(peaks[np.flatnonzero(values[peaks] >= 0.88 * best)[0]])
    return _parabola(values, lag)[0] / rate_hz, best


def _parabola(values: FloatArray, at: int) -> tuple[float, float]:
    """Position and height of the peak of the parabola through three neighbours."""
    a, b, c = values[at - 1], values[at], values[at + 1]
    bend = a - 2 * b + c
    shift = 0.5 * (a - c) / bend if bend < 0 else 0.0
    return at + float(shift), float(b - 0.25 * (a - c) * shift)


@dataclass(frozen=True)
class Spectrum:
    """Magnitude spectrum of a Hann-windowed piece: log magnitudes, floor, hertz a bin, sum of the window."""

    log_magnitude: FloatArray
    log_floor: FloatArray
    hz_per_bin: float
    window_sum: float


def spectrum_of(samples: FloatArray, rate_hz: float) -> Spectrum:
    """Log magnitude spectrum, twice zero-padded, with a running floor from block medians."""
    size = 2 << int(np.ceil(np.log2(len(samples))))
    window = np.hanning(len(samples))
    log = np.log(np.abs(np.fft.rfft(samples * window, size)) + 1e-12)
    block = min(max(16, round(FLOOR_BLOCK_HZ * size / rate_hz)), len(log))
    count = len(log) // block
    medians = np.median(log[: count * block].reshape(count, block), axis=1)
    floor = np.interp(np.arange(len(log)), (np.arange(count) + 0.5) * block, medians)
    return Spectrum(log, floor, rate_hz / size, float(window.sum()))


def peak_near(spectrum: Spectrum, frequency_hz: float, reach_hz: float) -> tuple[float, float, float]:
    """Frequency in Hz, height above the floor and log magnitude of the highest peak within reach; height 0:
    none."""
    low = max(2, int((frequency_hz - reach_hz) / spectrum.hz_per_bin))
    high = min(len(spectrum.log_magnitude) - 2, int((frequency_hz + reach_hz) / spectrum.hz_per_bin) + 2)
    if high - low < 2:
        return frequency_hz, 0.0, -np.inf
    at = low + int(np.argmax(spectrum.log_magnitude[low:high]))
    if not spectrum.log_magnitude[at - 1] <= spectrum.log_magnitude[at] > spectrum.log_magnitude[at + 1]:
        return frequency_hz, 0.0, -np.inf
    position, height = _parabola(spectrum.log_magnitude, at)
    return position * spectrum.hz_per_bin, height - float(spectrum.log_floor[at]), height


def fit_stiff(order: FloatArray, frequency_hz: FloatArray, weight: FloatArray) -> tuple[float, float]:
    """f0 in Hz and B >= 0 by least squares on (f_n/n)^2 = f0^2 (1 + B n^2)."""
    y, x = (frequency_hz / order) ** 2, order**2
    w = weight * order**2 / y
    w = w / w.sum()
    mean_x, mean_y = float(w @ x), float(w @ y)
    spread = float(w @ (x - mean_x) ** 2)
    slope = float(w @ ((x - mean_x) * (y - mean_y))) / spread if spread > 0 else 0.0
    b = min(max(slope / max(mean_y - slope * mean_x, 1e-9), 0.0), 5e-3)
    return float(np.sqrt(w @ (y / (1 + b * x)))), b


@dataclass(frozen=True)
class Walk:
    """Partials found walking up from a guess: f0, B and a table of number, Hz, height over floor, log
    magnitude."""

    fundamental_hz: float
    inharmonicity: float
    table: FloatArray

    def heard(self, numbers: tuple[int, ...], highest_hz: float, clear_of_mains: bool) -> tuple[float, float]:
        """Share of these partials that were found, and their median level against the strongest of all, in
        nepers."""
        wanted = [n for n in numbers if n * self.fundamental_hz < highest_hz]
        rows = self.table[np.isin(self.table[:, 0], wanted)]
        rows = rows[~_near_mains(rows[:, 1])] if clear_of_mains else rows
        if not wanted or len(rows) == 0:
            return 0.0, -np.inf
        return len(rows) / len(wanted), float(np.median(rows[:, 3]) - self.table[:, 3].max())


def _near_mains(frequency_hz: FloatArray) -> NDArray[np.bool_]:
    """Which frequencies lie within 0.8 Hz of a multiple of 50 or 60 Hz; shape of the frequencies."""
    near = np.zeros(frequency_hz.shape, dtype=bool)
    for mains in (50.0, 60.0):
        near |= np.abs(frequency_hz - mains * np.round(frequency_hz / mains)) < 0.8
    return near


def follow_partials(spectrum: Spectrum, start_hz: float, highest_hz: float) -> Walk | None:
    """The partials above a first guess of f0, or None when none stands out."""
    f0, b, misses, loudest = start_hz, 0.0, 0, -np.inf
    seen: list[tuple[float, float, float, float]] = []
    for n in range(1, MOST_PARTIALS + 1):
        expected = n * f0 * float(np.sqrt(1 + b * n * n))
        if expected > highest_hz or misses > 5:
            break
        share = 0.018 if len(seen) < 4 else 0.006
        reach = min(0.3 * f0, max(share * expected, 2.5 * spectrum.hz_per_bin))
        found, height, level = peak_near(spectrum, expected, reach)
        loudest = max(loudest, level)
        if height < np.log(PEAK_OVER_FLOOR) or level < loudest + FAINTEST:
            misses += 1
            continue
        misses = 0
        seen.append((float(n), found, height, level))
        f0, b = _refit(np.array(seen))
    return Walk(f0, b, np.array(seen)) if seen else None


def _refit(table: FloatArray) -> tuple[float, float]:
    """f0 and B of the partials seen so far; B is held small while fewer than three are seen."""
    order, frequency = table[:, 0], table[:, 1]
    f0, b = fit_stiff(order, frequency, table[:, 2])
    if len(table) >= 3:
        return f0, b
    b = min(b, 2e-4) if len(table) == 2 else 0.0
    return float(np.average(frequency / order / np.sqrt(1 + b * order**2), weights=order)), b


def right_octave(spectrum: Spectrum, guess_hz: float, highest_hz: float) -> Walk | None:
    """The walk at the guess, at a half or third of it where the partials in between are there, or at its
    double.

    A string whose first partial has died still rings with partials 3, 5, 7; a true octave has nothing there.
    """
    walk = follow_partials(spectrum, guess_hz, highest_hz)
    for part, missing in ((2, (1, 3, 5, 7, 9)), (3, (1, 2, 4, 5, 7, 8))):
        lower = (
            follow_partials(spectrum, guess_hz / part, highest_hz) if guess_hz / part > LOWEST_HZ else None
        )
        if lower is None:
            continue
        share, level = lower.heard(missing, highest_hz, clear_of_mains=True)
        same = abs(lower.fundamental_hz * part / guess_hz - 1) < 0.01
        if same and share >= 0.6 and level > QUIETEST_BETWEEN:
            return lower
    if walk is not None:
        share, level = walk.heard((1, 3, 5, 7, 9), highest_hz, clear_of_mains=False)
        if (share < 0.5 and level < QUIETEST_BETWEEN) or share <= 0.2:
            higher = follow_partials(spectrum, 2 * guess_hz, highest_hz)
            return higher if higher is not None and len(higher.table) > 1 else walk
    return walk


def coarse_pitch(samples: FloatArray, rate_hz: float) -> Coarse | None:
    """First idea of the note in a piece of sound (None: nothing periodic), good to a few cents."""
    period_s, periodic = period_of(samples[: round(0.4 * rate_hz)], rate_hz)
    if period_s <= 0:
        return None
    sound = samples[: round(1.0 * rate_hz)]
    spectrum, highest_hz = _spectrum_up_to(sound, rate_hz, HIGHEST_PARTIAL / period_s)
    # A very short piece cannot tell partials apart; there the autocorrelation alone has the octave right.
    pick = right_octave if len(samples) / rate_hz > PERIODS_TO_TELL * period_s else follow_partials
    walk = pick(spectrum, 1 / period_s, highest_hz)
    if walk is not None and walk.fundamental_hz * period_s > 1.5:
        spectrum, highest_hz = _spectrum_up_to(sound, rate_hz, HIGHEST_PARTIAL * walk.fundamental_hz)
        walk = follow_partials(spectrum, walk.fundamental_hz, highest_hz)
    if walk is None:
        return None
    return Coarse(walk.fundamental_hz, walk.inharmonicity, int(walk.table[-1, 0]), periodic)


def _spectrum_up_to(samples: FloatArray, rate_hz: float, highest_hz: float) -> tuple[Spectrum, float]:
    """A spectrum that reaches `highest_hz` if the sound does, and how far it reaches in Hz."""
    thin, thin_hz = thinned(samples, rate_hz, highest_hz)
    return spectrum_of(thin, thin_hz), 0.45 * thin_hz
