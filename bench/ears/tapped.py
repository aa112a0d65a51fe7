"""A tapped body: a few damped masses on springs, struck by a short blow, in a room; nothing of it is listening's."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
RATE_HZ = 44_100
# Where air, top and higher notes of bodies lie: N. H. Fletcher and T. D. Rossing (1998), The Physics of Musical
# Instruments, 2nd ed., chapter 9 (from memory).
SPANS_HZ = ((90.0, 120.0), (170.0, 235.0), (260.0, 330.0), (370.0, 520.0))


def body(rng: np.random.Generator) -> tuple[Array, Array]:
    """Resonances in Hz and their Q, drawn at random; shape (4,) each."""
    hz = np.array([rng.uniform(*span) for span in SPANS_HZ])
    return hz, rng.uniform(14.0, 45.0, len(hz))


def taps(
    rng: np.random.Generator, hz: Array, quality: Array, count: int = 6, noise_db: float = 45.0
) -> Array:
    """A recording of several taps at slightly different places and strengths; noise so far below the loudest."""
    gap = round(0.55 * RATE_HZ)
    out = np.zeros(gap * count + round(0.4 * RATE_HZ))
    usual = rng.uniform(0.35, 1.0, len(hz)) * rng.choice([-1, 1], len(hz))
    t = np.arange(gap) / RATE_HZ
    for k in range(count):
        size = usual * np.exp(0.35 * rng.standard_normal(len(hz))) * rng.uniform(0.5, 1.0)
        blow_s = rng.uniform(0.0008, 0.002)
        ring = np.zeros(gap)
        for f, q, a in zip(hz, quality, size, strict=True):
            turn = 2 * np.pi * f * np.sqrt(1 - 1 / (4 * q**2))
            ring += a * np.exp(-np.pi * f / q * t) * np.sin(turn * t)
        blow = np.hanning(max(3, round(blow_s * RATE_HZ)))
        sound = np.convolve(ring, blow / blow.sum())[:gap]
        sound += 0.3 * rng.standard_normal(gap) * np.exp(-t / 0.0012)
        at = round(0.2 * RATE_HZ) + k * gap
        out[at : at + gap] += sound
    loud = np.abs(out).max()
    return np.asarray(0.5 * (out / loud + 10 ** (-noise_db / 20) * 0.2 * rng.standard_normal(len(out))))
