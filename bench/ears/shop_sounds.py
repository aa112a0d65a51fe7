"""What a shop, a phone and a file do to a take: a fan, a voice, another string, mains hum, automatic gain, codecs."""

import io
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from bench.ears.coupled import RATE_HZ, played

Array = NDArray[np.float64]
Random = np.random.Generator


def level(sound: Array) -> float:
    """Root mean square of the first second and a half."""
    return float(np.sqrt(np.mean(sound[: 3 * RATE_HZ // 2] ** 2)))


def fan(sound: Array, rng: Random) -> Array:
    """A fan 22 to 32 dB below: low noise with the hum of its blades."""
    noise = np.cumsum(rng.standard_normal(len(sound)))
    noise -= np.convolve(noise, np.ones(2000) / 2000, "same")
    t = np.arange(len(sound)) / RATE_HZ
    noise = noise / np.std(noise) + 0.4 * np.sin(2 * np.pi * rng.uniform(70, 160) * t)
    return sound + level(sound) * 10 ** (-rng.uniform(22, 32) / 20) * noise


def voice(sound: Array, rng: Random) -> Array:
    """Somebody talks across the shop, 20 to 32 dB below."""
    t = np.arange(len(sound)) / RATE_HZ
    pitch = rng.uniform(95, 220) * (
        1 + 0.12 * np.sin(2 * np.pi * rng.uniform(0.4, 1.2) * t + rng.uniform(0, 6))
    )
    phase, said = 2 * np.pi * np.cumsum(pitch) / RATE_HZ, np.zeros(len(t))
    formants = rng.uniform([300, 900, 2200], [800, 2000, 3000])
    for k in range(1, 22):
        gain = sum(1 / (1 + ((k * pitch - f) / 120) ** 2) for f in formants) + 0.02
        said += gain * np.cos(k * phase) / np.sqrt(k)
    said *= np.clip(np.sin(2 * np.pi * rng.uniform(2, 4) * t + rng.uniform(0, 6)), 0, 1) ** 0.5
    return sound + level(sound) * 10 ** (-rng.uniform(20, 32) / 20) * said / max(float(np.std(said)), 1e-9)


def hum(sound: Array, rng: Random) -> Array:
    """Mains hum 20 to 34 dB below, 50 or 60 Hz, off by up to 0.05."""
    t, mains = np.arange(len(sound)) / RATE_HZ, rng.choice([50.0, 60.0]) + rng.uniform(-0.05, 0.05)
    tone = sum(
        rng.uniform(0.2, 1) / k * np.cos(2 * np.pi * k * mains * t + rng.uniform(0, 6)) for k in range(1, 11)
    )
    return sound + level(sound) * 10 ** (-rng.uniform(20, 34) / 20) * tone / np.std(tone)


def other_string(sound: Array, rng: Random) -> Array:
    """Another open string rings along in sympathy, 26 to 40 dB below."""
    also = played(
        rng, float(rng.choice([82.41, 110.0, 146.83, 196.0, 246.94])), 0.5, len(sound) / RATE_HZ, 0.5
    ).sound
    return sound + level(sound) * 10 ** (-rng.uniform(26, 40) / 20) * also / level(also)


def gain_control(sound: Array, rng: Random) -> Array:
    """A phone's automatic gain: follows the level with 20 ms up and 0.6 s down, 6 to 14 dB at most."""
    most, follow, out = 10 ** (rng.uniform(6, 14) / 20), 0.0, np.empty_like(sound)
    target = 0.25 * level(sound)
    size = RATE_HZ // 200
    for at in range(0, len(sound), size):
        part = sound[at : at + size]
        now = float(np.sqrt(np.mean(part**2)))
        follow += (now - follow) * (0.25 if now > follow else 0.0083)
        out[at : at + size] = part * min(most, target / max(follow, 1e-6))
    return out


def codec(sound: Array, rng: Random) -> Array:
    """Through a lossy file: Ogg Vorbis, Opus or MP3."""
    import soundfile

    form, kind = [("OGG", "VORBIS"), ("OGG", "OPUS"), ("MP3", "MPEG_LAYER_III")][int(rng.integers(3))]
    rate = 48_000 if kind == "OPUS" else RATE_HZ
    import soxr

    given = soxr.resample(sound, RATE_HZ, rate) if rate != RATE_HZ else sound
    file = io.BytesIO()
    soundfile.write(file, 0.9 * given / np.abs(given).max(), rate, format=form, subtype=kind)
    file.seek(0)
    back, found = soundfile.read(file)
    return np.asarray(soxr.resample(back, found, RATE_HZ) if found != RATE_HZ else back)


def muted(sound: Array, rng: Random) -> Array:
    """A hand stops the string after 0.7 to 2 s, in a room with noise 35 dB below."""
    t, at = np.arange(len(sound)) / RATE_HZ, rng.uniform(0.7, 2.0)
    stopped = sound * np.where(t < at, 1.0, np.exp(-(t - at) / 0.025))
    return stopped + level(sound) * 10 ** (-35 / 20) * rng.standard_normal(len(sound))


SHOP: dict[str, Callable[[Array, Random], Array]] = {
    one.__name__: one for one in (fan, voice, hum, other_string, gain_control, codec, muted)
}
