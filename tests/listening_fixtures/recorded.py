"""Recorded single plucks from Debian's `fluid-soundfont-gm` (MIT licence), read with a small reader of our
own.

Layout of the file: SoundFont 2.04 specification (E-mu Systems, 2006), section 5 (RIFF chunks `smpl`, `shdr`)
and 7.10 (sample header: 20 bytes of name, start, end, loop start, loop end, rate as 32-bit, pitch,
correction, link, type).
"""

import os
import struct
import warnings
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

PLACES = (Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"), Path("/usr/share/soundfonts/FluidR3_GM.sf2"))


@dataclass(frozen=True)
class Sample:
    """One recorded note: name in the file, key (60 is middle C), rate, 16-bit samples scaled to 1."""

    name: str
    key: int
    rate_hz: int
    samples: NDArray[np.float64]


def soundfont_path() -> Path | None:
    """Where the sound font is, or None."""
    return next((place for place in PLACES if place.exists()), None)


def need_soundfont() -> Path:
    """The sound font; without it a loud skip, and under CI a failure."""
    path = soundfont_path()
    if path is None:
        words = "recorded notes are missing: apt-get install fluid-soundfont-gm"
        if os.environ.get("CI"):
            pytest.fail(words)
        pytest.skip(words)
    return path


def _chunks(data: memoryview, start: int, stop: int) -> dict[str, tuple[int, int]]:
    """Offsets of all leaf chunks, lists opened."""
    found: dict[str, tuple[int, int]] = {}
    at = start
    while at + 8 <= stop:
        kind, size = bytes(data[at : at + 4]).decode("ascii"), struct.unpack_from("<I", data, at + 4)[0]
        if kind in ("RIFF", "LIST"):
            found |= _chunks(data, at + 12, at + 8 + size)
        else:
            found[kind] = (at + 8, size)
        at += 8 + size + (size & 1)
    return found


@lru_cache(maxsize=1)
def all_samples(path: Path) -> dict[str, tuple[int, int, int, int]]:
    """Start, end, rate and key of each sample by name."""
    data = memoryview(np.memmap(path, dtype=np.uint8, mode="r"))
    at, size = _chunks(data, 0, len(data))["shdr"]
    found = {}
    for row in range(at, at + size - 46, 46):
        name, start, end, _, _, rate, key = struct.unpack_from("<20sIIIIIB", data, row)
        found[name.split(b"\0")[0].decode("latin1").strip()] = (start, end, rate, key)
    return found


def sample(path: Path, name: str) -> Sample:
    """One recorded note by its name in the file."""
    start, end, rate, key = all_samples(path)[name]
    raw = np.memmap(path, dtype=np.uint8, mode="r")
    at, _ = _chunks(memoryview(raw), 0, len(raw))["smpl"]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pcm = np.array(raw[at + 2 * start : at + 2 * end]).view("<i2")
    return Sample(name, key, rate, pcm.astype(float) / 32768.0)


FAMILIES = ("Slap", "Picked", "Finger", "Jazz", "Banjo", "Steel", "Nylon", "Clean")


def plucks(path: Path, shortest_s: float = 0.5) -> list[Sample]:
    """Every recorded single pluck of guitars, basses and banjo, by name, from its pluck on."""
    found = []
    for name, (start, end, rate, _) in sorted(all_samples(path).items()):
        first = name.split()[0] if name else ""
        if first in FAMILIES and " " in name and "Drum" not in name and (end - start) / rate >= shortest_s:
            note = sample(path, name)
            found.append(Sample(name, note.key, rate, note.samples[_pluck_at(note) :]))
    return found


def long_plucks(path: Path) -> list[Sample]:
    """The plucks of at least 1.25 s."""
    return plucks(path, 1.25)


def _pluck_at(note: Sample) -> int:
    """Where the sound first reaches a tenth of its highest power."""
    size = note.rate_hz // 100
    power = np.convolve(note.samples**2, np.ones(size) / size, "same")
    return int(np.argmax(power > 0.1 * power.max()))
