"""Mains hum: is it there, at what frequency, and what rows take it out of each band."""

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.coarse import Spectrum, peak_near, spectrum_of
from breakangle.listening.pitch.partials import Bands, frame_length_s, thinned

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

# Where nothing else is said below: calibrated by listening_honesty, on its spoiled takes.
# Exact: the frequencies that mains have.
MAINS_HZ = (50.0, 60.0)
MULTIPLES = 16
ON_HUM_HZ = 0.5  # hum this near a partial cannot be told from it within a take
LONGEST_S = 2.5
NEEDED = 4
STANDS_OUT = 6.0
FAINTEST = -6.7  # nepers below the strongest partial (-58 dB): fainter hum moves nothing


def find_hum(samples: FloatArray, rate_hz: float, bands: Bands) -> float:
    """Mains frequency in Hz found between the partials; 0 when fewer than four multiples stand out at one
    frequency."""
    spectrum = spectrum_of(
        *thinned(samples[: round(LONGEST_S * rate_hz)], rate_hz, MULTIPLES * MAINS_HZ[-1] + 100)
    )
    partials_hz = bands.carrier_hz
    strongest = float(np.max(np.mean(np.abs(bands.values) ** 2, axis=1)))
    loudest = 0.5 * np.log(strongest) + np.log(spectrum.window_sum / 2)
    best_hz, best_weight = 0.0, 0.0
    for mains in MAINS_HZ:
        table = _multiples(spectrum, partials_hz, mains)
        if len(table) < NEEDED:
            continue
        order, height = table[:, 0], table[:, 2]
        weight = order**2 * np.exp(2 * np.minimum(height, 8))
        found_hz = float(np.average(table[:, 1] / order, weights=weight))
        agree = np.abs(table[:, 1] - order * found_hz) < 0.35 * spectrum.hz_per_bin
        loud = float(np.max(table[:, 3], initial=-np.inf, where=agree)) > loudest + FAINTEST
        if agree.sum() >= NEEDED and loud and weight[agree].sum() > best_weight:
            best_hz, best_weight = found_hz, float(weight[agree].sum())
    return best_hz


def _multiples(spectrum: Spectrum, partials_hz: FloatArray, mains_hz: float) -> FloatArray:
    """Multiples of a mains frequency that stand out clear of the partials: number, Hz, height, level; shape
    (found, 4)."""
    rows: list[tuple[float, float, float, float]] = []
    for k in range(1, MULTIPLES + 1):
        at, height, level = peak_near(spectrum, k * mains_hz, max(0.12 * k, 1.01 * spectrum.hz_per_bin))
        # Neither beside a partial, nor a partial itself that lies within reach of the multiple.
        clear = np.abs(partials_hz - np.array([[k * mains_hz], [at]])).min() >= 6 * spectrum.hz_per_bin
        if not clear:
            continue
        near = abs(at - k * mains_hz) < 0.12 * k + 0.3 * spectrum.hz_per_bin
        if near and height > np.log(STANDS_OUT) and level > local_level(spectrum, at) + np.log(STANDS_OUT):
            rows.append((float(k), at, height, level))
    return np.array(rows).reshape(-1, 4)


def local_level(spectrum: Spectrum, frequency_hz: float) -> float:
    """Median log magnitude within 40 bins either side of a frequency."""
    at = round(frequency_hz / spectrum.hz_per_bin)
    return float(np.median(spectrum.log_magnitude[max(0, at - 40) : at + 41]))


def hum_rows(bands: Bands, mains_hz: float, available_s: float) -> ComplexArray:
    """Fixed rows, shape (partials, most hums in a band, frames): zeros where a band has fewer."""
    empty = np.zeros((len(bands.order), 0, len(bands.time_s)), dtype=complex)
    if mains_hz <= 0:
        return empty
    reach = 3.2 / frame_length_s(bands.carrier_hz[0] / bands.order[0], available_s)
    rows = []
    for carrier in bands.carrier_hz:
        low = max(1, int(np.ceil((carrier - reach) / mains_hz)))
        high = min(MULTIPLES, int((carrier + reach) / mains_hz))
        offsets = np.arange(low, high + 1) * mains_hz - carrier
        rows.append(np.exp(2j * np.pi * np.outer(offsets, bands.time_s)))
    most = max(row.shape[0] for row in rows)
    if most == 0:
        return empty
    padded = [np.pad(row, ((0, most - row.shape[0]), (0, 0))) for row in rows]
    return np.stack(padded)
