"""Partials of a take at baseband: each one moved to zero frequency and thinned out, in one matrix product."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

# Where nothing else is said below: chosen; no source; `python -m bench listening_honesty` tells what it costs.
# Window length in periods of partial 1: a Blackman window's main lobe then ends at the neighbouring partial.
PERIODS_PER_FRAME = 6.0
SHORTEST_FRAME_S = 0.06
HOPS_PER_FRAME = 3
RATE_OVER_HIGHEST = 2.6


@dataclass(frozen=True)
class Bands:
    """Complex amplitude of each partial over time.

    Attributes:
        order: partial numbers, shape (partials,).
        carrier_hz: frequency each was moved down by, shape (partials,).
        time_s: frame centres after the pluck, shape (frames,).
        values: shape (partials, frames), a sine of amplitude A gives |value| = A.
        noise: standard deviation of the complex noise in each band, shape (partials,).
        correlation_ratio: variance inflation because frames overlap.
    """

    order: NDArray[np.int64]
    carrier_hz: FloatArray
    time_s: FloatArray
    values: ComplexArray
    noise: FloatArray
    correlation_ratio: float

    def every_second(self) -> "Bands":
        """The same bands with every second frame: half the work where a rough answer will do."""
        return replace(self, time_s=self.time_s[::2], values=self.values[:, ::2])

    def keep(self, chosen: NDArray[np.bool_]) -> "Bands":
        """The same bands with only the chosen partials, mask of shape (partials,)."""
        return Bands(
            self.order[chosen],
            self.carrier_hz[chosen],
            self.time_s,
            self.values[chosen],
            self.noise[chosen],
            self.correlation_ratio,
        )


def frame_length_s(fundamental_hz: float, available_s: float) -> float:
    """Window length in seconds: six periods, at least 24 ms, at most 0.45 of what there is."""
    return min(max(PERIODS_PER_FRAME / fundamental_hz, SHORTEST_FRAME_S), 0.45 * available_s)


def demodulate(
    samples: FloatArray, rate_hz: float, start_s: float, frequencies_hz: FloatArray, frame_s: float
) -> tuple[FloatArray, ComplexArray, float]:
    """Frame centres in seconds, complex amplitudes (frequencies, frames) and the overlap's variance
    inflation.

    Args:
        samples: shape (samples,); the first one lies `start_s` after the pluck.
        rate_hz: samples a second.
        start_s: time of the first sample.
        frequencies_hz: what to move to zero, shape (frequencies,).
        frame_s: window length in seconds.
    """
    width = min(max(16, round(frame_s * rate_hz)), len(samples))
    hop = max(4, width // HOPS_PER_FRAME)
    window = np.blackman(width + 1)[:width]
    window = window / window.sum()
    frames = np.lib.stride_tricks.sliding_window_view(samples, width)[::hop]
    offset = np.arange(width) - (width - 1) / 2
    time_s = start_s + (np.arange(len(frames)) * hop + (width - 1) / 2) / rate_hz
    angle = 2 * np.pi / rate_hz * np.outer(offset, frequencies_hz)
    basis = np.concatenate([np.cos(angle), -np.sin(angle)], axis=1) * (2 * window)[:, None]
    product = np.ascontiguousarray(frames) @ basis
    count = len(frequencies_hz)
    values = (product[:, :count] + 1j * product[:, count:]).T
    values = values * np.exp(-2j * np.pi * np.outer(frequencies_hz, time_s))
    lags = [np.dot(window[: width - k], window[k:]) for k in range(0, width, hop)]
    overlap = np.array(lags) / lags[0]
    return np.asarray(time_s, dtype=float), np.asarray(values), float(1 + 2 * np.sum(overlap[1:]))


def thinned(samples: FloatArray, rate_hz: float, highest_hz: float) -> tuple[FloatArray, float]:
    """The samples at the lowest whole fraction of their rate that still carries `highest_hz`, and that rate.

    The resampler's filter has linear phase, so that no partial is moved in time.
    """
    import soxr

    factor = int(rate_hz / (RATE_OVER_HIGHEST * highest_hz))
    if factor < 2:
        return samples, rate_hz
    return np.asarray(soxr.resample(samples, factor, 1, quality="HQ"), dtype=float), rate_hz / factor


def bands_of(
    samples: FloatArray,
    rate_hz: float,
    start_s: float,
    fundamental_hz: float,
    inharmonicity: float,
    count: int,
) -> Bands:
    """Baseband of partials 1..count, with each band's noise judged from the gaps between the partials.

    Args:
        samples: shape (samples,); the first one lies `start_s` after the pluck.
        rate_hz: samples a second.
        start_s: time of the first sample after the pluck.
        fundamental_hz: f0 of the stiff-string law f_n = n f0 sqrt(1 + B n^2).
        inharmonicity: B of that law.
        count: number of partials.
    """
    order = np.arange(1, count + 1)
    between = np.arange(count + 1, dtype=float) + 0.5
    carrier = stiff_partials(fundamental_hz, inharmonicity, order.astype(float))
    gaps = stiff_partials(fundamental_hz, inharmonicity, between)
    frame_s = frame_length_s(fundamental_hz, len(samples) / rate_hz)
    time_s, values, correlation = demodulate(
        samples, rate_hz, start_s, np.concatenate([carrier, gaps]), frame_s
    )
    floor = np.sqrt(np.mean(np.abs(values[count:]) ** 2, axis=1))
    noise = np.minimum(floor[:-1], floor[1:]) + 1e-12
    return Bands(order, carrier, time_s, values[:count], noise, correlation)


def stiff_partials(fundamental_hz: float, inharmonicity: float, order: FloatArray) -> FloatArray:
    """Frequencies in Hz of a stiff string, f_n = n f0 sqrt(1 + B n^2); shape of `order`.

    Source: Fletcher (1964), "Normal vibration frequencies of a stiff piano string", J. Acoust. Soc. Am. 36,
        203.
    """
    f0, b, n = fundamental_hz, inharmonicity, order
    return np.asarray(n * f0 * np.sqrt(1 + b * n**2))
