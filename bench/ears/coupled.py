"""Plucked strings whose two polarisations are coupled, mode by mode, with the true lines that come of it.

Each partial is two oscillators (across and along the board) with slightly different pitches and decays, joined at the
bridge: the lines heard are the eigenvalues of that pair, and only they are true. All partials fall with the energy of
the whole string (Legge and Fletcher 1984, J. Acoust. Soc. Am. 76, 5). Source of the coupling: Woodhouse (2004), On the
synthesis of guitar plucks, Acta Acustica 90, 928 (from memory). Nothing is shared with listening or with the tests.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
RATE_HZ = 44_100
CENTS = 1200 / np.log(2)
MOST_PARTIALS = 24


@dataclass(frozen=True)
class Played:
    """A made take: samples, its true partial-1 lines in Hz (settled), and partial 1's note.

    `falls_per_s` is how fast each partial falls at the pluck: the mean of its two lines, each by its power.
    """

    sound: Array
    lines_hz: tuple[float, float]
    shares: tuple[float, float]
    falls_per_s: Array


def played(
    rng: np.random.Generator,
    hz: float,
    apart_cents: float,
    seconds: float = 2.4,
    glide_cents: float | None = None,
    inharmonicity: float | None = None,
    aged: float = 0.0,
    losses: tuple[float, float] | None = None,
) -> Played:
    """One pluck at `hz`, the polarisations `apart_cents` apart before they are joined.

    `inharmonicity` is B of the string and `losses` its fall per second and how that grows, drawn where None; `aged` is
    how far a string has gone, 0 new and 1 dead:
    dirt in its windings eats high partials, and uneven mass throws them off their law.
    """
    f, decay = _partials(rng, hz, inharmonicity, losses, aged)
    count = len(f)
    n = np.arange(1, count + 1)
    p, angle = rng.uniform(0.08, 0.3), rng.uniform(0.1, 1.2)
    shape = np.sin(np.pi * n * p) / n**2
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    size = rng.uniform(1, 9) if glide_cents is None else glide_cents
    share = (n * shape) ** 2 / np.sum((n * shape) ** 2)
    lag = sum(w * (1 - np.exp(-2 * a * t)) / (2 * a) for w, a in zip(share, decay, strict=True))
    warped = t + size / CENTS * lag
    colour = np.exp(0.35 * rng.standard_normal(count) + 1j * rng.uniform(0, 2 * np.pi, count))
    seen = np.abs(np.exp(1j * rng.uniform(0, 2 * np.pi)) * np.array([0.9, rng.uniform(0.15, 0.6)]))
    out, falls = np.zeros(len(t)), np.zeros(count)
    first: tuple[tuple[float, float], tuple[float, float]] = ((hz, hz), (1.0, 0.0))
    for k in range(count):
        local = apart_cents * rng.uniform(0.85, 1.15) / CENTS
        join = 0.15 * local * np.exp(1j * rng.uniform(0, np.pi))
        bare = np.array([[1 - local / 2, join], [join, 1 + local / 2]], dtype=complex)
        pair = bare * 2 * np.pi * f[k] + 1j * np.diag([decay[k] * 1.25, decay[k] * 0.85])
        values, heard = _lines(pair, angle, seen)
        falls[k] = np.average(values.imag, weights=np.abs(heard) ** 2)
        for value, amount in zip(values, heard, strict=True):
            part = complex(shape[k] * n[k] * colour[k] * amount)
            out += abs(part) * np.exp(-value.imag * t) * np.cos(value.real * warped + np.angle(part))
        if k == 0:
            hertz, weight = values.real / 2 / np.pi, np.abs(heard) / np.abs(heard).max()
            first = ((float(hertz[0]), float(hertz[1])), (float(weight[0]), float(weight[1])))
    thump = np.exp(-t / 0.02) * np.sin(2 * np.pi * rng.uniform(90, 220) * t)
    out = out / np.abs(out).max() + 0.2 * thump + 0.08 * rng.standard_normal(len(t)) * np.exp(-t / 0.005)
    return Played(out / np.abs(out).max(), *first, falls)


def _partials(
    rng: np.random.Generator,
    hz: float,
    inharmonicity: float | None,
    losses: tuple[float, float] | None,
    aged: float,
) -> tuple[Array, Array]:
    """Frequencies of a string's partials in Hz, before its polarisations part them, and their falls per second."""
    b = float(np.exp(rng.uniform(np.log(2e-5), np.log(3e-4)))) if inharmonicity is None else inharmonicity
    count = int(min(MOST_PARTIALS, 9000 // hz))
    n = np.arange(1, count + 1)
    f = hz * n * np.sqrt((1 + b * n**2) / (1 + b))
    base, growth = (rng.uniform(0.5, 1.2), rng.uniform(0.01, 0.04)) if losses is None else losses
    decay = base * (1 + hz / 500) * np.sqrt(1 + growth * (n**2 - 1))
    if aged:
        decay = decay * (1 + 2.5 * aged * (n / 8) ** 1.5)
        f = f * np.exp(1.2 * aged / CENTS * rng.standard_normal(count))
    return np.asarray(f), np.asarray(decay)


def _lines(pair: np.ndarray, angle: float, seen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Complex angular frequencies of the two lines of a coupled pair, and how much of each is heard."""
    values, vectors = np.linalg.eig(pair)
    start = np.linalg.solve(vectors, np.array([np.cos(angle), np.sin(angle)]))
    return values, (seen @ vectors) * start
