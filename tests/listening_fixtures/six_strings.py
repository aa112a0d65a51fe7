"""One player, six strings: each open, as harmonic and stopped at the twelfth, with the truth beside the sound."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from listening_fixtures.plucks import Pluck, render

FloatArray = NDArray[np.float64]
# Equal temperament from A4 = 440 Hz (ISO 16): E2 A2 D3 G3 B3 E4.
OPEN_STEPS = {6: -29, 5: -24, 4: -19, 3: -14, 2: -10, 1: -5}
OPEN_HZ = {number: 440.0 * 2 ** (steps / 12) for number, steps in OPEN_STEPS.items()}
# Our choice: how far each string is from its note, and its fretted octave from its harmonic, in cents.
OFF_CENTS = {6: -12.0, 5: 8.0, 4: -4.0, 3: 17.0, 2: -21.0, 1: 5.0}
SHARP_CENTS = {6: 7.5, 5: 3.0, 4: -2.0, 3: 11.0, 2: 1.0, 1: -4.0}
STIFF = 1.0e-4
KINDS = ("open", "harmonic", "fretted")
BY_STRING = [(string, kind) for string in OPEN_HZ for kind in KINDS]
BY_ROUND = [(string, kind) for kind in KINDS for string in OPEN_HZ]


def truth_hz(string: int, kind: str) -> float:
    """Partial 1 of what is played; that of the harmonic is partial 2 of the open string (Fletcher 1964)."""
    hz = OPEN_HZ[string] * 2 ** (OFF_CENTS[string] / 1200)
    if kind == "open":
        return hz
    octave = float(2 * hz * np.sqrt((1 + 4 * STIFF) / (1 + STIFF)))
    return octave * 2 ** (SHARP_CENTS[string] / 1200) if kind == "fretted" else octave


def pluck(string: int, kind: str, rate_hz: int = 44_100, **changed: float) -> Pluck:
    """One of them, with the glide, hum and noise of a workshop."""
    stiff = {"open": STIFF, "harmonic": 4 * STIFF, "fretted": 4.2 * STIFF}[kind]
    common = {"decay_one_per_s": 1.5, "glide_cents": 4.0, "hum_db": 45.0, "duration_s": 1.7}
    return Pluck(
        truth_hz(string, kind), inharmonicity=stiff, energy_law=True, rate_hz=rate_hz, **(common | changed)
    )


def played(
    notes: Iterable[tuple[int, str]], rate_hz: int = 44_100, seed: int = 8, lead_s: float = 0.5
) -> FloatArray:
    """Samples of these notes one after the other, the last left to ring, after a little of the quiet room."""
    rng = np.random.default_rng(seed)
    rows = list(notes)
    sounds = [1e-4 * rng.standard_normal(round(lead_s * rate_hz))]
    for at, note in enumerate(rows):
        length_s = 1.7 if at < len(rows) - 1 else 2.8
        one = pluck(*note, rate_hz, duration_s=length_s)
        sounds.append(render(one, int(rng.integers(1 << 30))))
    sounds.append(1e-4 * rng.standard_normal(rate_hz))
    return np.concatenate(sounds)
