"""How pitch falls after the pluck: a start value for the joint fit, and the shape the fit uses.

A string's tension rises with the square of its amplitude, so pitch starts high and settles as the energy
dies.
Source: Legge and Fletcher (1984), "Nonlinear generation of missing modes on a vibrating string", J. Acoust.
Soc. Am. 76, 5.
"""

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.partials import Bands

FloatArray = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench listening_honesty` tells what it costs.
GRID = (0.7, 1.2, 2.0, 3.5, 6.0, 10.0)


def lag(time_s: FloatArray, rate_per_s: float) -> FloatArray:
    """Integral of exp(-r t) from 0: the extra time, in seconds, that a unit glide adds; shape of `time_s`."""
    t, r = time_s, rate_per_s
    return np.asarray(-np.expm1(-r * t) / r)


def lag_slope(time_s: FloatArray, rate_per_s: float) -> FloatArray:
    """Derivative of `lag` with respect to ln r, in seconds."""
    t, r = time_s, rate_per_s
    return np.asarray(t * np.exp(-r * t) + np.expm1(-r * t) / r)


def pitch_track(bands: Bands, settled: FloatArray | float = 0.0) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Times in s, relative pitch (pure number) and weights, frame to frame, over all partials.

    Args:
        bands: the partials.
        settled: ln of each partial's settled pitch over its carrier, shape (partials,): pitch is told from
            there; 0 tells it from the carriers.
    """
    step = bands.values[:, 1:] * np.conj(bands.values[:, :-1])
    hop_s = float(bands.time_s[1] - bands.time_s[0])
    relative = np.angle(step) / (2 * np.pi * hop_s) / bands.carrier_hz[:, None]
    power = np.abs(step) / (bands.noise[:, None] ** 2)
    weight = power * bands.carrier_hz[:, None] ** 2 / (1 + power / 1e4)
    weight = weight + 1e-12 * weight.max()
    relative = relative - np.reshape(settled, (-1, 1))
    return (bands.time_s[1:] + bands.time_s[:-1]) / 2, _weighted_median(relative, weight), weight.sum(axis=0)


def _weighted_median(values: FloatArray, weight: FloatArray) -> FloatArray:
    """Weighted median down each column; shape (columns,)."""
    order = np.argsort(values, axis=0)
    value = np.take_along_axis(values, order, axis=0)
    share = np.cumsum(np.take_along_axis(weight, order, axis=0), axis=0)
    at = np.argmax(share >= share[-1] / 2, axis=0)
    return np.asarray(value[at, np.arange(values.shape[1])])


def first_glide(time_s: FloatArray, relative: FloatArray, weight: FloatArray) -> tuple[float, float, float]:
    """Settled relative pitch, glide at the pluck (both pure numbers, glide >= 0) and its rate per second."""
    best = (np.inf, float(np.average(relative, weights=weight)), 0.0, 2.0)
    root = np.sqrt(weight)
    for rate in GRID:
        basis = np.stack([np.ones_like(time_s), np.exp(-rate * time_s)], axis=1)
        answer, *_ = np.linalg.lstsq(basis * root[:, None], relative * root, rcond=None)
        size = float(np.clip(answer[1], 0.0, 0.03))
        settled = float(np.average(relative - size * basis[:, 1], weights=weight))
        cost = float(np.sum(weight * (relative - settled - size * basis[:, 1]) ** 2))
        if cost < best[0]:
            best = (cost, settled, size, rate)
    return best[1:]
