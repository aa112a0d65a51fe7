"""How long notes ring, as heard, against the losses put in, on strings of two physics of the bench's own.

Partial n of a string by finite differences falls with σ (1 + g n²) per second (`bench.ears.difference_string`), in both
polarisations alike. Of plucks whose polarisations are coupled mode by mode (`bench.ears.coupled`), whose two lines fall
apart, partial n falls with the mean of both, each by its power. The time of a note is that of its lowest six partials,
each as loud as it is heard; the true time is taken with the same weights.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from bench.ears.coupled import played
from bench.ears.sounds import NOISE_DB, RATE_HZ, drawn, recorded, recordings
from breakangle.listening.stream import takes_in
from breakangle.services.listening.decays import CARRYING_PARTIALS, SIXTY_DB_NEPERS, rings_s

Array = NDArray[np.float64]
SEED = 181
SETS = (
    ("steel", 82.4, 196.0, (90.0, 320.0), False),
    ("bass", 41.2, 98.0, (100.0, 350.0), True),
    ("nylon", 82.4, 247.0, (48.0, 111.0), False),
)
LOW_HZ, HIGH_HZ, APART_CENTS = 82.4, 330.0, (0.1, 1.5)  # of coupled plucks; every fourth an octave lower


def report(quick: bool = False, only: str = "", seed: int = SEED) -> str:
    """Errors of the time a note takes to fall by 60 dB; of one set where `only` names it."""
    count = 8 if quick else 30
    of_each = f"{count} strings of each set, half by body, half by pickup, and {2 * count} coupled"
    lines = [f"{of_each}; noise 40 dB below; seed {seed}"]
    for number, (name, low, high, axial, bass) in enumerate(SETS):
        if only in ("", name):
            rng = np.random.default_rng([seed, number])
            lines.append(_row(name, _by_differences(rng, count, low, high, axial, bass)))
    if only in ("", "coupled"):
        rng = np.random.default_rng([seed, len(SETS)])
        lines.append(_row("coupled", _coupled(rng, 2 * count)))
    return "\n".join(lines)


def _by_differences(
    rng: np.random.Generator,
    count: int,
    low_hz: float,
    high_hz: float,
    axial: tuple[float, float],
    bass: bool,
) -> Iterator[tuple[Array, Array]]:
    """Recordings of strings drawn at random, and how fast partials 1, 2, … of each fall per second."""
    strings = drawn(rng, count, low_hz, high_hz, axial, bass)
    n = np.arange(1, CARRYING_PARTIALS + 1)
    for index, sound in enumerate(recordings(strings, rng)):
        yield sound, strings.decay_per_s[index] * (1 + strings.decay_growth[index] * n**2)


def _coupled(rng: np.random.Generator, count: int) -> Iterator[tuple[Array, Array]]:
    """The same of plucks whose polarisations are coupled."""
    for index in range(count):
        hz = float(np.exp(rng.uniform(np.log(LOW_HZ), np.log(HIGH_HZ)))) / (2 if index % 4 == 3 else 1)
        one = played(rng, hz, float(rng.choice([-1, 1]) * rng.uniform(*APART_CENTS)))
        yield recorded(one.sound, rng, NOISE_DB), one.falls_per_s


def _row(name: str, sounds: Iterator[tuple[Array, Array]]) -> str:
    off: list[float] = []
    count = 0
    for sound, falls_per_s in sounds:
        count += 1
        takes = takes_in(sound, RATE_HZ)
        pitch = takes[0].pitch if takes else None
        if pitch is None:
            continue
        carries = pitch.bands.order <= CARRYING_PARTIALS
        put_in = falls_per_s[pitch.bands.order[carries] - 1]
        weight = np.sqrt(np.sum(np.abs(pitch.solution.lines) ** 2, axis=1))[carries]
        true_s = SIXTY_DB_NEPERS / np.exp(np.average(np.log(put_in), weights=weight))
        off.append(100 * abs(rings_s(pitch) / true_s - 1))
    size = np.array(off)
    return (
        f"    {name}: off by {np.median(size):.1f} % in the middle, {np.quantile(size, 0.95):.1f} % for 95 of 100, "
        f"within 5 %: {np.sum(size <= 5)} of {count}; not told {count - len(off)}"
    )
