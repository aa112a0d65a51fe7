"""What a string does to its saddle made into a recording: a body, a pickup or a microphone, noise, at 44.1 kHz."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from bench.ears.difference_string import Strings, Swung, swing

Array = NDArray[np.float64]
RATE_HZ = 44_100
SECONDS, NOISE_DB = 2.3, 40.0


def drawn(
    rng: np.random.Generator,
    count: int,
    low_hz: float,
    high_hz: float,
    axial: tuple[float, float],
    bass: bool = False,
) -> Strings:
    """Strings drawn at random between two pitches, nothing below them, plucked 0.6 to 3.2 mm."""
    length = rng.uniform(820, 890, count) if bass else rng.uniform(620, 660, count)
    return Strings(
        hz=np.exp(rng.uniform(np.log(low_hz), np.log(high_hz), count)),
        length_mm=length,
        axial_ratio=rng.uniform(*axial, count),
        stiffness=np.exp(rng.uniform(np.log(2e-5), np.log(2e-4), count)),
        height_mm=rng.uniform(0.6, 3.2, count),
        toward=rng.uniform(0.07, 0.56, count),
        pluck_ratio=rng.uniform(0.08, 0.3, count),
        decay_per_s=rng.uniform(0.4, 1.3, count),
        decay_growth=np.exp(rng.uniform(np.log(0.005), np.log(0.06), count)),
        apart_ratio=rng.uniform(-3e-4, 3e-4, count),
        crown_ratio=np.full((count, 1), 0.5),
        gap_mm=np.full((count, 1), np.inf),
    )


def recordings(strings: Strings, rng: np.random.Generator, seconds: float = SECONDS) -> Iterator[Array]:
    """Each string plucked and recorded, by pickup and by body in turn, with noise 40 dB below."""
    swung = swing(strings, seconds)
    for index, hz in enumerate(strings.hz.tolist()):
        sound = string_force(swung, index, rng.uniform(0.2, 1.0))
        heard = through_body(sound, rng) if index % 2 else through_pickup(sound, hz, rng.uniform(0.06, 0.25))
        yield recorded(heard, rng, NOISE_DB)


def string_force(swung: Swung, index: int, upright_share: float) -> Array:
    """One string's force on its saddle at `RATE_HZ`, both polarisations mixed, peak about 1."""
    import soxr

    mixed = upright_share * swung.upright[index] + swung.sideways[index]
    found = soxr.resample(mixed.astype(float), swung.rate_hz[index], RATE_HZ, quality="HQ")
    return np.asarray(found / np.max(np.abs(found)))


def through_body(sound: Array, rng: np.random.Generator, rate_hz: int = RATE_HZ) -> Array:
    """The sound as a body and a microphone colour it: a dozen resonances over a floor, falling off below 80 Hz."""
    size = 1 << int(np.ceil(np.log2(len(sound) + rate_hz // 2)))
    frequency = np.fft.rfftfreq(size, 1 / rate_hz)
    gain = np.full(frequency.shape, 0.6 + 0j)
    centres = np.concatenate(
        [[rng.uniform(90, 120), rng.uniform(180, 230)], np.exp(rng.uniform(5.7, 8.4, 10))]
    )
    for centre in centres:
        x = frequency / centre
        q = rng.uniform(12, 35)
        gain += rng.uniform(0.3, 1.2) * (1j * x / q) / (1 - x**2 + 1j * x / q)
    gain *= (1j * frequency / 60) / (1 + 1j * frequency / 60)
    found = np.fft.irfft(np.fft.rfft(sound, size) * gain, size)[: len(sound)]
    return np.asarray(found / np.max(np.abs(found)))


def through_pickup(sound: Array, hz: float, place_ratio: float, rate_hz: int = RATE_HZ) -> Array:
    """The sound as a pickup at a share of the length hears it: the string's speed there, rolled off above 4 kHz.

    A force on the saddle is what has come there as a wave; at the pickup it passes a little before, and again, turned
    over, a little after.
    """
    size = 1 << int(np.ceil(np.log2(len(sound) + 64)))
    frequency = np.fft.rfftfreq(size, 1 / rate_hz)
    delay = place_ratio / 2 / hz
    gain = 2j * np.sin(2 * np.pi * frequency * delay) / (1 + 1j * frequency / 4000) ** 2
    found = np.fft.irfft(np.fft.rfft(sound, size) * gain, size)[: len(sound)]
    return np.asarray(found / np.max(np.abs(found)))


def recorded(sound: Array, rng: np.random.Generator, noise_db: float, quiet_s: float = 0.25) -> Array:
    """The sound after a quarter of a second of the room it stands in, whose noise is so far below its first second."""
    level = float(np.sqrt(np.mean(sound[:RATE_HZ] ** 2)))
    out = np.concatenate([np.zeros(round(quiet_s * RATE_HZ)), sound])
    return np.asarray(0.6 * out + 0.6 * level * 10 ** (-noise_db / 20) * rng.standard_normal(len(out)))
