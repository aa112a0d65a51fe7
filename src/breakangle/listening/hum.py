"""Mains hum: is it there, at what frequency, and what columns take it out of each band."""

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.coarse import Spectrum, peak_near
from breakangle.listening.partials import Bands, frame_length_s

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

MAINS_HZ = (50.0, 60.0)
MULTIPLES = 16
NEEDED = 3
FAINTEST = -6.7  # nepers below the strongest partial (-58 dB): fainter hum moves nothing


def find_hum(spectrum: Spectrum, partials_hz: FloatArray) -> float:
    """Mains frequency in Hz found between the partials; 0 when fewer than three multiples stand out."""
    best_hz, best_height = 0.0, 0.0
    loudest = max(peak_near(spectrum, float(f), 3 * spectrum.hz_per_bin)[2] for f in partials_hz)
    clear = 6 * spectrum.hz_per_bin
    for mains in MAINS_HZ:
        found: list[tuple[float, float, float, float]] = []
        for k in range(1, MULTIPLES + 1):
            if np.min(np.abs(partials_hz - k * mains)) < clear:
                continue
            at, height, level = peak_near(spectrum, k * mains, max(0.12 * k, 1.01 * spectrum.hz_per_bin))
            if height > np.log(5.0) and abs(at - k * mains) < 0.12 * k + 0.3 * spectrum.hz_per_bin:
                found.append((k, at, height, level))
        height = sum(row[2] for row in found)
        if len(found) >= NEEDED and height > best_height and max(row[3] for row in found) > loudest + FAINTEST:
            table = np.array(found)
            weight = table[:, 0] ** 2 * np.exp(2 * np.minimum(table[:, 2], 8))
            best_hz = float(np.average(table[:, 1] / table[:, 0], weights=weight))
            best_height = height
    return best_hz


def hum_columns(bands: Bands, mains_hz: float, available_s: float) -> ComplexArray:
    """Fixed columns, shape (partials, frames, most hums in a band): zeros where a band has fewer."""
    empty = np.zeros((*bands.values.shape, 0), dtype=complex)
    if mains_hz <= 0:
        return empty
    reach = 3.2 / frame_length_s(bands.carrier_hz[0] / bands.order[0], available_s)
    columns = []
    for carrier in bands.carrier_hz:
        low = max(1, int(np.ceil((carrier - reach) / mains_hz)))
        high = min(MULTIPLES, int((carrier + reach) / mains_hz))
        offsets = np.arange(low, high + 1) * mains_hz - carrier
        columns.append(np.exp(2j * np.pi * np.outer(bands.time_s, offsets)))
    most = max(column.shape[1] for column in columns)
    if most == 0:
        return empty
    padded = [np.pad(column, ((0, 0), (0, most - column.shape[1]))) for column in columns]
    return np.stack(padded)
