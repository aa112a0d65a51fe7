"""Takes that go wrong, made on purpose: each kind with its true pitches, none where there is no string at
all."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from listening_fixtures.plucks import Pluck, hum, random_pluck, render, with_glide, with_hum, with_second

FloatArray = NDArray[np.float64]
Nasty = tuple[FloatArray, tuple[float, ...]]
Random = np.random.Generator


def plain(rng: Random) -> Pluck:
    """A fair pluck of a guitar or bass with glide, to be spoiled."""
    low, high = ((82.4, 880.0), (30.9, 98.0))[int(rng.integers(2))]
    return with_glide(random_pluck(rng, low, high), rng, energy_law=True)


def seed(rng: Random) -> int:
    """A seed for one more pluck."""
    return int(rng.integers(1 << 30))


def clipped(rng: Random) -> Nasty:
    """Overdriven by 2 to 12 times."""
    pluck = plain(rng)
    return np.clip(render(pluck, seed(rng)) * rng.uniform(4, 24), -1, 1), (pluck.partial_one_hz,)


def hummed(rng: Random) -> Nasty:
    """Mains hum from 20 dB below to 6 dB above the string."""
    pluck = replace(with_hum(plain(rng), rng), hum_db=float(rng.uniform(-6, 20)))
    return render(pluck, seed(rng)), (pluck.partial_one_hz,)


def short(rng: Random) -> Nasty:
    """Stopped by the hand after 0.15 to 0.7 s."""
    pluck = plain(rng)
    sound = render(replace(pluck, noise_db=None), seed(rng))
    t = np.arange(len(sound)) / pluck.rate_hz
    stop = rng.uniform(0.15, 0.7)
    sound = sound * np.where(t < stop, 1.0, np.exp(-(t - stop) / 0.02))
    return sound + 1e-4 * rng.standard_normal(len(sound)), (pluck.partial_one_hz,)


def quiet(rng: Random) -> Nasty:
    """In noise from 10 dB above to 15 dB below."""
    pluck = replace(plain(rng), noise_db=float(rng.uniform(-10, 15)))
    return render(pluck, seed(rng)), (pluck.partial_one_hz,)


def two_strings(rng: Random) -> Nasty:
    """Another string rings along, 0 to 25 dB below."""
    pluck = plain(rng)
    steps = float(rng.choice([-12, -7, -5, -4, 3, 4, 5, 7, 10, 12, 19, 24])) + rng.normal(0, 0.08)
    other = replace(plain(rng), partial_one_hz=max(31.0, pluck.partial_one_hz * 2 ** (steps / 12)))
    size = 10 ** (-rng.uniform(0, 25) / 20)
    return 0.6 * (render(pluck, seed(rng)) + size * render(other, seed(rng))), (pluck.partial_one_hz,)


def course(rng: Random) -> Nasty:
    """A course of two strings 1.5 to 25 c apart, both plucked."""
    pluck = plain(rng)
    away = float(rng.choice([-1, 1]) * rng.uniform(1.5, 25))
    other = replace(pluck, partial_one_hz=pluck.partial_one_hz * 2 ** (away / 1200))
    size = rng.uniform(0.4, 1.0)
    return 0.6 * (render(pluck, seed(rng)) + size * render(other, seed(rng))), (pluck.partial_one_hz,)


def beats(rng: Random) -> Nasty:
    """A second polarisation nearly as strong as the first: either is the pitch."""
    pluck = replace(with_second(plain(rng), rng), second_ratio=float(rng.uniform(0.5, 0.9)))
    other = pluck.partial_one_hz * 2 ** (pluck.second_cents / 1200)
    return render(pluck, seed(rng)), (pluck.partial_one_hz, other)


def plucked_again(rng: Random) -> Nasty:
    """The same string plucked again, louder or softer, a few cents away, after 0.2 to 1.5 s."""
    pluck = plain(rng)
    first = render(pluck, seed(rng))
    again = replace(pluck, partial_one_hz=pluck.partial_one_hz * 2 ** (rng.normal(0, 6) / 1200))
    second = render(again, seed(rng)) * rng.uniform(0.3, 1.5)
    at = round(rng.uniform(0.2, 1.5) * pluck.rate_hz)
    sound = np.concatenate([first[:at], 0.2 * first[at:]])
    sound[at:] += second[: len(sound) - at]
    return sound / np.max(np.abs(sound)), (pluck.partial_one_hz, again.partial_one_hz)


def bent(rng: Random) -> Nasty:
    """The tuner is turned, or the neck is pushed, while it rings, 3 to 60 c: either pitch is true."""
    pluck = plain(rng)
    sound = render(replace(pluck, duration_s=3.0), seed(rng))
    t = np.arange(len(sound)) / pluck.rate_hz
    size = float(rng.choice([-1, 1]) * rng.uniform(3, 60))
    centre, width = rng.uniform(0.4, 1.4), rng.uniform(0.15, 0.6)
    ratio = 2 ** (size / 1200 / (1 + np.exp(-(t - centre) / width)))
    warped = np.cumsum(ratio) / pluck.rate_hz
    end = int(np.searchsorted(warped, t[-1]))
    after = pluck.partial_one_hz * float(ratio[end - 1])
    return np.interp(warped[:end], t, sound), (pluck.partial_one_hz, after)


def vibrato(rng: Random) -> Nasty:
    """Vibrato of 3 to 30 c at 3 to 7 Hz."""
    pluck = plain(rng)
    sound = render(replace(pluck, duration_s=3.0), seed(rng))
    t = np.arange(len(sound)) / pluck.rate_hz
    depth, speed = rng.uniform(3, 30) / 1200 * np.log(2), rng.uniform(3, 7)
    warped = t - depth / (2 * np.pi * speed) * np.cos(2 * np.pi * speed * t)
    return np.interp(warped[: -pluck.rate_hz // 10], t, sound), (pluck.partial_one_hz,)


def speech(rng: Random) -> Nasty:
    """A made voice: pulses at a wandering pitch through three moving resonances, in syllables."""
    rate = 44_100
    t = np.arange(round(2.5 * rate)) / rate
    pitch = rng.uniform(90, 240) * np.exp(0.15 * np.cumsum(rng.standard_normal(len(t))) / np.sqrt(rate))
    pitch *= 1 + 0.1 * np.sin(2 * np.pi * rng.uniform(0.3, 1.5) * t)
    phase = 2 * np.pi * np.cumsum(pitch) / rate
    sound = np.zeros_like(t)
    formants = rng.uniform([300, 900, 2200], [800, 2000, 3000])
    for k in range(1, 25):
        gain = sum(1 / (1 + ((k * pitch - f) / 120) ** 2) for f in formants) + 0.02
        sound += gain * np.cos(k * phase) / np.sqrt(k)
    syllables = np.clip(np.sin(2 * np.pi * rng.uniform(2, 4) * t + rng.uniform(0, 6)), 0, 1) ** 0.5
    return 0.4 * sound * syllables / np.max(np.abs(sound)) + 1e-3 * rng.standard_normal(len(t)), ()


def handling(rng: Random) -> Nasty:
    """Knocks and scrapes: short bursts of filtered noise."""
    rate = 44_100
    sound = 1e-3 * rng.standard_normal(round(2.5 * rate))
    for _ in range(int(rng.integers(3, 12))):
        at, size = int(rng.integers(0, 2 * rate)), int(rng.integers(200, 9000))
        burst = np.convolve(rng.standard_normal(size), np.ones(8) / 8, "same") * np.exp(
            -np.arange(size) / (size / 4)
        )
        room = min(size, len(sound) - at)
        sound[at : at + room] += rng.uniform(0.1, 1) * burst[:room]
    return sound / np.max(np.abs(sound)), ()


def noise(rng: Random) -> Nasty:
    """Noise or hum alone, white to brown, sometimes coming and going."""
    rate = 44_100
    sound = rng.standard_normal(round(2.5 * rate))
    if rng.random() < 0.4:
        sound = np.convolve(sound, np.ones(int(rng.integers(2, 60))), "same")
    if rng.random() < 0.3:
        sound += 3 * hum(Pluck(100.0), len(sound), rng)
    if rng.random() < 0.5:
        sound *= np.arange(len(sound)) > rng.uniform(0.2, 1) * rate
    return 0.3 * sound / np.max(np.abs(sound)), ()


def thin(rng: Random) -> Nasty:
    """A small loudspeaker's or phone's sound: nothing below 300 to 500 Hz, 8 bits."""
    pluck = plain(rng)
    sound = render(pluck, seed(rng))
    spectrum = np.fft.rfft(sound)
    frequency = np.fft.rfftfreq(len(sound), 1 / pluck.rate_hz)
    cut = rng.uniform(300, 500)
    spectrum *= (frequency / cut) ** 4 / (1 + (frequency / cut) ** 4)
    sound = np.fft.irfft(spectrum, len(sound))
    return np.round(sound / np.max(np.abs(sound)) * 127) / 128, (pluck.partial_one_hz,)


def room(rng: Random) -> Nasty:
    """A live room: exponential reverberation of 0.4 to 1.2 s."""
    pluck = plain(rng)
    sound = render(pluck, seed(rng))
    t = np.arange(pluck.rate_hz) / pluck.rate_hz
    tail = rng.standard_normal(len(t)) * np.exp(-6.9 * t / rng.uniform(0.4, 1.2))
    tail *= rng.uniform(0.02, 0.15) / np.sqrt(np.mean(tail**2) * len(t)) * 5
    tail[0] = 1.0
    size = len(sound) + len(tail)
    sound = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: len(sound)]
    return 0.6 * sound / np.max(np.abs(sound)), (pluck.partial_one_hz,)


KINDS: dict[str, Callable[[Random], Nasty]] = {
    f.__name__: f
    for f in (
        clipped, hummed, short, quiet, two_strings, course, beats, plucked_again,
        bent, vibrato, speech, handling, noise, thin, room,
    )
}  # fmt: skip
