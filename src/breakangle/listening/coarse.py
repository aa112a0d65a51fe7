"""A first idea of pitch and stiffness: autocorrelation for the octave, spectral peaks for the partials."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.partials import stiff_partials

FloatArray = NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 26.0, 2800.0
MOST_PARTIALS = 20
PEAK_OVER_FLOOR = 5.0


@dataclass(frozen=True)
class Coarse:
    """First idea of a note: f0 in Hz and B of the stiff-string law, partials seen, how periodic (0 to 1)."""

    fundamental_hz: float
    inharmonicity: float
    partial_count: int
    periodic_ratio: float


def autocorrelation(samples: FloatArray, longest: int) -> FloatArray:
    """Normalised autocorrelation, -1 to 1, at lags 0..longest-1.

    Source: McLeod and Wyvill (2005), "A smarter way to find pitch", Proc. ICMC: twice the product over the sum of squares.
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
    if len(peaks) == 0:
        return 0.0, 0.0
    best = float(values[peaks].max())
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
    """Magnitude spectrum of a Hann-windowed piece: log magnitudes, floor, hertz a bin."""

    log_magnitude: FloatArray
    log_floor: FloatArray
    hz_per_bin: float


def spectrum_of(samples: FloatArray, rate_hz: float) -> Spectrum:
    """Log magnitude spectrum, twice zero-padded, with a running floor from block medians."""
    size = 2 << int(np.ceil(np.log2(len(samples))))
    magnitude = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), size)) + 1e-12
    log = np.log(magnitude)
    block = max(16, len(log) // 64)
    count = len(log) // block
    medians = np.median(log[: count * block].reshape(count, block), axis=1)
    floor = np.interp(np.arange(len(log)), (np.arange(count) + 0.5) * block, medians)
    return Spectrum(log, floor, rate_hz / size)


def peak_near(spectrum: Spectrum, frequency_hz: float, reach_hz: float) -> tuple[float, float]:
    """Frequency in Hz and height above the floor (natural log) of the highest peak within reach; height 0: none."""
    low = max(2, int((frequency_hz - reach_hz) / spectrum.hz_per_bin))
    high = min(len(spectrum.log_magnitude) - 2, int((frequency_hz + reach_hz) / spectrum.hz_per_bin) + 2)
    if high - low < 2:
        return frequency_hz, 0.0
    at = low + int(np.argmax(spectrum.log_magnitude[low:high]))
    if not spectrum.log_magnitude[at - 1] <= spectrum.log_magnitude[at] > spectrum.log_magnitude[at + 1]:
        return frequency_hz, 0.0
    position, height = _parabola(spectrum.log_magnitude, at)
    return position * spectrum.hz_per_bin, height - float(spectrum.log_floor[at])


def fit_stiff(order: FloatArray, frequency_hz: FloatArray, weight: FloatArray) -> tuple[float, float]:
    """f0 in Hz and B >= 0 by least squares on (f_n/n)^2 = f0^2 (1 + B n^2)."""
    y, x = (frequency_hz / order) ** 2, order**2
    w = weight * order**2 / y
    mean_x, mean_y = np.average(x, weights=w), np.average(y, weights=w)
    spread = np.average((x - mean_x) ** 2, weights=w)
    slope = np.average((x - mean_x) * (y - mean_y), weights=w) / spread if spread > 0 else 0.0
    b = float(np.clip(slope / max(mean_y - slope * mean_x, 1e-9), 0.0, 5e-3))
    f0 = np.sqrt(np.average(y / (1 + b * x), weights=w))
    return float(f0), b


def follow_partials(spectrum: Spectrum, start_hz: float, highest_hz: float) -> tuple[float, float, int, float]:
    """f0 in Hz, B, number of the last partial seen and summed height, walking up from the first partial."""
    f0, b, misses, last, total = start_hz, 0.0, 0, 0, 0.0
    seen: list[tuple[float, float, float]] = []
    for n in range(1, MOST_PARTIALS + 1):
        expected = float(stiff_partials(f0, b, np.array([float(n)]))[0])
        if expected > highest_hz or misses > 5:
            break
        reach = min(0.3 * f0, max(0.006 * expected * (1 + 2 * (len(seen) < 4)), 2.5 * spectrum.hz_per_bin))
        found, height = peak_near(spectrum, expected, reach)
        if height < np.log(PEAK_OVER_FLOOR):
            misses += 1
            continue
        misses, last, total = 0, n, total + min(height, 6.0)
        seen.append((float(n), found, height))
        table = np.array(seen)
        f0, b = fit_stiff(table[:, 0], table[:, 1], table[:, 2])
        if len(seen) < 3:
            b = 0.0 if len(seen) < 2 else min(b, 2e-4)
            f0 = float(np.average(table[:, 1] / table[:, 0] / np.sqrt(1 + b * table[:, 0] ** 2), weights=table[:, 0]))
    return f0, b, last, total


def coarse_pitch(samples: FloatArray, rate_hz: float) -> Coarse | None:
    """First idea of the note in a piece of sound (None: nothing periodic), good to a few cents."""
    period_s, periodic = period_of(samples[: round(0.4 * rate_hz)], rate_hz)
    if period_s <= 0:
        return None
    spectrum = spectrum_of(samples[: round(1.0 * rate_hz)], rate_hz)
    f0, b, last, _ = follow_partials(spectrum, 1 / period_s, 0.45 * rate_hz)
    if last == 0:
        return None
    return Coarse(f0, b, last, periodic)
