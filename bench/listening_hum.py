"""Hum of three kinds told apart in the pauses of made recordings, and none heard where there is none."""

from collections import Counter

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.takes.hum_kind import hum_between

SEED, RATE_HZ = 173, 44_100
Array = NDArray[np.float64]


def made(kind: str, rng: np.random.Generator, seconds: float = 1.5) -> Array:
    """A pause with hum of a kind, noise 12 dB below it; `none` has noise alone."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    mains = rng.choice([50.0, 60.0]) + rng.uniform(-0.05, 0.05)
    turn = 2 * np.pi * mains * t
    noise = rng.standard_normal(len(t))
    if kind == "loop":
        hum = sum(
            rng.uniform(0.5, 1) / k**1.3 * np.cos(k * turn + rng.uniform(0, 6)) for k in (1, 3, 5, 7, 9)
        )
        hum = hum + 0.1 * np.cos(2 * turn)
    elif kind == "rectifier":
        hum = sum(rng.uniform(0.6, 1) / k * np.cos(2 * k * turn + rng.uniform(0, 6)) for k in range(1, 9))
        hum = hum + 0.2 * np.cos(turn)
    elif kind == "dimmer":  # a step twice a period, at the same angle
        angle = rng.uniform(0.8, 2.3)
        hum = np.sin(turn) * (np.mod(turn, np.pi) > angle)
        hum = np.diff(hum, prepend=0.0)
    else:
        return np.asarray(1e-3 * noise)
    return np.asarray(0.01 * (hum / np.std(hum) + 0.25 * noise))


def report(quick: bool = False) -> str:
    """How often each kind is told rightly."""
    count = 20 if quick else 100
    lines = [f"Hum in a pause of 1.5 s, {count} of each kind, seed {SEED}"]
    for kind in ("loop", "rectifier", "dimmer", "none"):
        told: Counter[str] = Counter()
        for seed in range(count):
            found = hum_between(made(kind, np.random.default_rng([SEED, seed, len(kind)])), RATE_HZ)
            told["none" if found is None else found.kind] += 1
        lines.append(f"    {kind:10s} {dict(told)}")
    return "\n".join(lines)
