"""Made recordings that are heard another way than pluck by pluck; of the bench's own sounds, of other physics."""

from pathlib import Path

import numpy as np
import soundfile

from bench.ears.coupled import RATE_HZ, played
from bench.ears.strums import TUNINGS_HZ, slide, strum
from bench.ears.tapped import body, taps
from bench.listening_hum import made as hum_made
from bench.listening_shop import in_a_room

WEIGHED_KG, ADDED_G = 0.2, 20.0


def recorded(place: Path, sound: np.ndarray) -> str:
    """Write a sound and return its path."""
    soundfile.write(place, sound, RATE_HZ, subtype="PCM_24")
    return str(place)


def open_strings(rng: np.random.Generator, aged: dict[int, float]) -> np.ndarray:
    """Return four open strings of the example, plucked one after another, each as old as `aged` tells."""
    parts = []
    for string, hz in zip((6, 5, 4, 3), TUNINGS_HZ[0], strict=False):
        made = played(rng, hz, 0.2, 2.2, 1.5, 8e-5, aged.get(string, 0.0), (0.8, 0.02))
        parts.append(in_a_room(made.sound, rng))
    return np.concatenate(parts)


def neck(dead_fret: int) -> np.ndarray:
    """Return the notes of string 4 from the open one to fret 5, one of them short."""
    parts = []
    for fret in range(6):
        rng = np.random.default_rng([9, fret])
        losses = (3.5 if fret == dead_fret else 0.8, 0.02)
        made = played(rng, 146.832 * 2 ** (fret / 12), 0.1, 1.6, 1.0, 8e-5, 0.0, losses)
        parts.append(in_a_room(made.sound, rng))
    return np.concatenate(parts)


def tapped(loaded: bool) -> np.ndarray:
    """Return taps on one body of 190 Hz and more, with the added weight on it or without."""
    rng = np.random.default_rng(5)
    hz, quality = body(rng)
    hz[1], quality[1] = 190.0, 30.0
    plain = taps(rng, hz, quality)
    # Derived: a mass on a spring with more mass.
    return taps(rng, hz / np.sqrt(1 + ADDED_G * 1e-3 / WEIGHED_KG), quality) if loaded else plain


def write_forms(folder: Path) -> None:
    """Write a recording for every form that the documentation names, by its name there."""
    recorded(folder / "slide.wav", slide(np.random.default_rng(3), 146.832, frets=7).sound)
    recorded(folder / "strum.wav", strum(np.random.default_rng(4), TUNINGS_HZ[0]).sound)
    recorded(folder / "taps.wav", tapped(loaded=False))
    recorded(folder / "loaded.wav", tapped(loaded=True))
    recorded(folder / "new.wav", open_strings(np.random.default_rng(7), {}))
    recorded(folder / "now.wav", open_strings(np.random.default_rng(8), {5: 0.9}))
    recorded(folder / "pause.wav", hum_made("loop", np.random.default_rng(6)))
    recorded(folder / "held.wav", 0.3 * hum_made("loop", np.random.default_rng(6)))
    recorded(folder / "neck.wav", neck(dead_fret=3))
