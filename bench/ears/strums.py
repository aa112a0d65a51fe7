"""Six strings strummed, and all frets of a string in one slide, made from plucks whose polarisations are coupled."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.ears.coupled import RATE_HZ, played

Array = NDArray[np.float64]
# Tunings in common use, lowest first: E A D G B E, D A D G A D, and a bass; exact, at A4 = 440 Hz equal temperament.
TUNINGS_HZ = (
    (82.407, 110.0, 146.832, 195.998, 246.942, 329.628),
    (73.416, 110.0, 146.832, 195.998, 220.0, 293.665),
    (41.203, 55.0, 73.416, 97.999),
)


@dataclass(frozen=True)
class Strum:
    """A made strum: the sound, each string's nominal note in Hz, the B that is known of it, and its true lines."""

    sound: Array
    nominal_hz: tuple[float, ...]
    known_b: tuple[float, ...]
    lines_hz: tuple[tuple[float, float], ...]


def strum(rng: np.random.Generator, tuning: tuple[float, ...], off_cents: float = 15.0) -> Strum:
    """All strings of a tuning, each off by so much, one after another within 0.1 s, for three seconds."""
    out = np.zeros(round(3.3 * RATE_HZ))
    b, lines = [], []
    for at, hz in enumerate(tuning):
        true_b = float(np.exp(rng.uniform(np.log(3e-5), np.log(2e-4))))
        one = played(
            rng, hz * 2 ** (rng.normal(0, off_cents) / 1200), rng.choice([-1, 1]) * rng.uniform(0.05, 0.5),
            3.0, rng.uniform(0.5, 3.0), true_b,
        )  # fmt: skip
        start = round(rng.uniform(0.008, 0.02) * at * RATE_HZ)
        out[start : start + len(one.sound)] += one.sound * rng.uniform(0.6, 1.0)
        b.append(true_b * float(np.exp(0.4 * rng.standard_normal())))
        lines.append(one.lines_hz)
    level = float(np.sqrt(np.mean(out**2)))
    out = np.concatenate([np.zeros(RATE_HZ // 5), out])
    return Strum(
        0.4 * out / np.abs(out).max() + 0.4 * level / np.abs(out).max() * 10 ** (-42 / 20)
        * rng.standard_normal(len(out)),
        tuning, tuple(b), tuple(lines),
    )  # fmt: skip


@dataclass(frozen=True)
class Slide:
    """A made slide: the sound, the open string's nominal note in Hz, and the true lines of each fret in turn."""

    sound: Array
    open_hz: float
    lines_hz: tuple[tuple[float, float], ...]


def slide(rng: np.random.Generator, open_hz: float, frets: int = 12, rest_s: float = 0.6) -> Slide:
    """A slide from the open string up, a rest at each fret, plucked anew every few; frets are 3 c off at random."""
    b, off = float(np.exp(rng.uniform(np.log(3e-5), np.log(2e-4)))), rng.normal(0, 8)
    apart = float(rng.choice([-1, 1]) * rng.uniform(0.05, 0.5))
    pieces, lines, since_s = [np.zeros(RATE_HZ // 5)], [], 0.0
    for fret in range(frets + 1):
        hz = open_hz * 2 ** ((100 * fret + off + (rng.normal(0, 3) if fret else 0.0)) / 1200)
        length = rng.uniform(0.8, 1.3) * rest_s
        plucked = fret == 0 or since_s > rng.uniform(1.5, 3.0)
        glide = float(rng.uniform(0.5, 3.0)) if plucked else 0.0
        since_s = 0.0 if plucked else since_s
        b_here = b * 2 ** (2 * fret / 12)
        one = played(rng, hz, apart, length + since_s + 0.3, glide, b_here)
        first = 0 if plucked else round((since_s + 0.25) * RATE_HZ)
        sound = one.sound[first : first + round(length * RATE_HZ)].copy()
        fade = round(0.012 * RATE_HZ)
        if not plucked:
            sound[:fade] *= np.linspace(0, 1, fade)
        sound[-fade:] *= np.linspace(1, 0, fade)
        scrape = 0.02 * rng.standard_normal(round(0.03 * RATE_HZ)) if fret else np.zeros(0)
        pieces += [scrape, sound]
        lines.append(one.lines_hz)
        since_s += length
    sound = np.concatenate([*pieces, np.zeros(RATE_HZ // 10)])
    level = float(np.sqrt(np.mean(sound**2)))
    return Slide(
        0.5 * (sound + level * 10 ** (-42 / 20) * rng.standard_normal(len(sound))), open_hz, tuple(lines)
    )
