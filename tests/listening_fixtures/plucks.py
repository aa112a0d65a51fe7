"""Plucked strings made from physics: stiff partials, decay per partial, glide, second polarisation, hum,
body, noise.

Nothing here is shared with the estimator, so that a mistake cannot cancel itself.
Sources: stiff partials, Fletcher (1964), "Normal vibration frequencies of a stiff piano string", J. Acoust.
Soc. Am. 36, 203; pluck shape sin(n pi p)/n^2, Fletcher and Rossing (1998), "The Physics of Musical
Instruments", section 2.7; pitch falls with the energy of the string, Legge and Fletcher (1984), J. Acoust.
Soc. Am. 76, 5 (tension rises with amplitude squared). Sizes of glide, detuning and decay are our choice,
from memory of measured guitars.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
CENTS = 1200.0 / np.log(2.0)


@dataclass(frozen=True)
class Pluck:
    """What one synthetic pluck is. `partial_one_hz` is the truth: partial 1 of the settled, stronger
    polarisation."""

    partial_one_hz: float
    inharmonicity: float = 1e-4
    decay_one_per_s: float = 1.0
    decay_growth: float = 0.02
    decay_spread: float = 0.3
    pluck_ratio: float = 0.17
    pickup_ratio: float = 0.11
    glide_cents: float = 0.0
    glide_s: float = 0.3
    energy_law: bool = False
    drift_cents: float = 0.0
    drift_from_s: float = 0.0
    drift_to_s: float = 0.0
    second_ratio: float = 0.0
    second_cents: float = 0.0
    second_scatter_ratio: float = 0.2
    partial_scatter_cents: float = 0.0
    hum_db: float | None = None
    hum_hz: float = 50.0
    noise_db: float | None = 40.0
    attack: bool = True
    body: bool = True
    duration_s: float = 2.4
    silence_s: float = 0.0
    rate_hz: int = 44_100
    peak: float = 0.5


def partial_frequencies(pluck: Pluck, count: int) -> FloatArray:
    """Frequencies in Hz of partials 1..count, scaled so that partial 1 is `partial_one_hz` exactly."""
    n = np.arange(1, count + 1)
    b = pluck.inharmonicity
    return np.asarray(pluck.partial_one_hz * n * np.sqrt((1 + b * n**2) / (1 + b)))


def partial_count(pluck: Pluck) -> int:
    """Number of partials that stay below 0.45 of the rate and 9 kHz, forty at most."""
    count = 1
    while count < 40 and partial_frequencies(pluck, count + 1)[-1] < min(9000.0, 0.45 * pluck.rate_hz):
        count += 1
    return count


def _body(frequency_hz: FloatArray, rng: np.random.Generator) -> NDArray[np.complex128]:
    """Complex gain of four damped resonances over a flat floor: colours amplitude and phase of every
    partial."""
    gain = np.full(frequency_hz.shape, 1.0 + 0j)
    for centre in (100.0, 200.0, 410.0, 900.0):
        centre *= rng.uniform(0.9, 1.1)
        x = frequency_hz / centre
        gain += rng.uniform(0.5, 2.0) * (1j * x / 15) / (1 - x**2 + 1j * x / 15)
    return gain


def _attack(pluck: Pluck, samples: int, rng: np.random.Generator) -> FloatArray:
    """Pick noise and body thump: over within a tenth of a second."""
    t = np.arange(samples) / pluck.rate_hz
    thump = np.exp(-t / 0.02) * np.sin(2 * np.pi * rng.uniform(90, 220) * t)
    return np.asarray(0.3 * thump + 0.1 * rng.standard_normal(samples) * np.exp(-t / 0.006))


def _glide(pluck: Pluck, t: FloatArray, amplitude: FloatArray, decay: FloatArray) -> FloatArray:
    """Integral over time, in seconds, of the relative rise of pitch above the settled pitch."""
    size = pluck.glide_cents / CENTS
    if not pluck.energy_law:
        return np.asarray(size * pluck.glide_s * (1 - np.exp(-t / pluck.glide_s)))
    n = np.arange(1, len(amplitude) + 1)
    share = (n * amplitude) ** 2
    share = share / share.sum()
    rise = np.zeros_like(t)
    for weight, rate in zip(share, 2 * decay, strict=True):
        rise += weight * (1 - np.exp(-rate * t)) / rate
    return size * rise


def _drift(pluck: Pluck, t: FloatArray) -> FloatArray:
    """Integral over time, in seconds, of the relative change of pitch of a tuner that slips: steadily by
    `drift_cents`, from `drift_from_s` to `drift_to_s`, and no further."""
    if pluck.drift_cents == 0.0:
        return np.zeros_like(t)
    span = pluck.drift_to_s - pluck.drift_from_s
    done = np.clip(t - pluck.drift_from_s, 0.0, span)
    after = np.maximum(t - pluck.drift_to_s, 0.0)
    return np.asarray(pluck.drift_cents / CENTS * (done**2 / (2 * span) + after))


@dataclass(frozen=True)
class Parts:
    """What the partials of one pluck are: Hz, amplitude seen, decay per second, phase, and shape on the string."""

    frequency: FloatArray
    seen: FloatArray
    decay: FloatArray
    phase: FloatArray
    shape: FloatArray


def parts_of(pluck: Pluck, rng: np.random.Generator) -> Parts:
    """The partials of a pluck, drawn at random."""
    count = partial_count(pluck)
    n = np.arange(1, count + 1)
    frequency = partial_frequencies(pluck, count)
    frequency[1:] *= 2 ** (pluck.partial_scatter_cents * rng.standard_normal(count - 1) / 1200)
    shape = np.sin(np.pi * n * pluck.pluck_ratio) / n**2
    seen = np.abs(shape * n * (0.15 + np.abs(np.sin(np.pi * n * pluck.pickup_ratio)))) + 1e-4
    decay = pluck.decay_one_per_s * (1 + pluck.decay_growth * (n**2 - 1)) ** 0.5
    decay = decay * rng.uniform(1 - pluck.decay_spread, 1 + pluck.decay_spread, count)
    phase = rng.uniform(0, 2 * np.pi, count)
    if pluck.body:
        gain = _body(frequency, rng)
        seen, phase = seen * np.abs(gain), phase + np.angle(gain)
    return Parts(frequency, seen, decay, phase, shape)


def clean_string(pluck: Pluck, rng: np.random.Generator) -> FloatArray:
    """Samples of the string alone, peak about 1, shape (duration_s * rate_hz,)."""
    parts = parts_of(pluck, rng)
    count, frequency, decay, seen, phase = (
        len(parts.frequency), parts.frequency, parts.decay, parts.seen, parts.phase
    )  # fmt: skip
    t = np.arange(round(pluck.duration_s * pluck.rate_hz)) / pluck.rate_hz
    warped = t + _glide(pluck, t, np.abs(parts.shape), decay) + _drift(pluck, t)
    scatter = rng.uniform(1 - pluck.second_scatter_ratio, 1 + pluck.second_scatter_ratio, count)
    out = np.zeros_like(t)
    for k in range(count):
        out += seen[k] * np.exp(-decay[k] * t) * np.cos(2 * np.pi * frequency[k] * warped + phase[k])
        if pluck.second_ratio > 0:
            other = frequency[k] * 2 ** (pluck.second_cents * scatter[k] / 1200)
            size = seen[k] * pluck.second_ratio * rng.uniform(0.6, 1.4)
            slow = decay[k] * rng.uniform(0.6, 1.3)
            out += size * np.exp(-slow * t) * np.cos(2 * np.pi * other * warped + rng.uniform(0, 2 * np.pi))
    return np.asarray(out / np.max(np.abs(out)))


def bound_cents(pluck: Pluck, seed: int, start_s: float, length_s: float) -> float:
    """Cramer-Rao bound in cents of partial 1 from all partials, f0 and B unknown, no glide, white noise.

    Phase, amplitude and decay of each partial are unknown too. A phase carries A^2 / (2 sigma^2) a sample; frequency
    information is that, times (2 pi)^2, times the weighted spread of time. Source: Rife and Boorstyn (1974),
    "Single-tone parameter estimation from discrete-time observations", IEEE Trans. Inf. Theory 20, 591, with decay.
    """
    rng = np.random.default_rng(seed)
    parts = parts_of(pluck, rng)
    string = clean_string(pluck, np.random.default_rng(seed))
    own = np.zeros_like(string)
    whole = np.arange(len(string)) / pluck.rate_hz
    for k in range(len(parts.frequency)):
        angle = 2 * np.pi * parts.frequency[k] * whole + parts.phase[k]
        own += parts.seen[k] * np.exp(-parts.decay[k] * whole) * np.cos(angle)
    scale = 1 / float(np.max(np.abs(own)))
    assert pluck.noise_db is not None
    variance = float(np.mean(string[: 2 * pluck.rate_hz] ** 2)) * 10 ** (-pluck.noise_db / 10)
    t = start_s + np.arange(round(length_s * pluck.rate_hz)) / pluck.rate_hz
    information = np.zeros((2, 2))
    n = np.arange(1, len(parts.frequency) + 1)
    for k, order in enumerate(n):
        weight = (scale * parts.seen[k] * np.exp(-parts.decay[k] * t)) ** 2 / (2 * variance)
        spread = float(np.sum(weight * (t - np.average(t, weights=weight)) ** 2))
        slope = np.array([1.0, 0.5 * order**2 / (1 + pluck.inharmonicity * order**2)])
        information += (2 * np.pi * parts.frequency[k]) ** 2 * spread * np.outer(slope, slope)
    first = np.array([1.0, 0.5 / (1 + pluck.inharmonicity)])
    return float(CENTS * np.sqrt(first @ np.linalg.inv(information) @ first))


def hum(pluck: Pluck, samples: int, rng: np.random.Generator) -> FloatArray:
    """Mains hum of unit power: twelve multiples of `hum_hz`, falling, phases at random."""
    t = np.arange(samples) / pluck.rate_hz
    out = np.zeros(samples)
    for k in range(1, 13):
        out += (
            rng.uniform(0.2, 1.0) / k * np.cos(2 * np.pi * k * pluck.hum_hz * t + rng.uniform(0, 2 * np.pi))
        )
    return np.asarray(out / np.sqrt(np.mean(out**2)))


def render(pluck: Pluck, seed: int) -> FloatArray:
    """Samples of the pluck after `silence_s` of silence, noise and hum throughout, largest sample `peak`.

    `noise_db` and `hum_db` are levels below the string's own power over the first two seconds.
    """
    rng = np.random.default_rng(seed)
    string = clean_string(pluck, rng)
    power = float(np.mean(string[: 2 * pluck.rate_hz] ** 2))
    if pluck.attack:
        string = string + _attack(pluck, len(string), rng)
    out = np.concatenate([np.zeros(round(pluck.silence_s * pluck.rate_hz)), string])
    if pluck.noise_db is not None:
        out += np.sqrt(power * 10 ** (-pluck.noise_db / 10)) * rng.standard_normal(len(out))
    if pluck.hum_db is not None:
        out += np.sqrt(power * 10 ** (-pluck.hum_db / 10)) * hum(pluck, len(out), rng)
    return np.asarray(pluck.peak * out / np.max(np.abs(out)))


def random_pluck(rng: np.random.Generator, low_hz: float = 82.4, high_hz: float = 1318.5) -> Pluck:
    """A pluck drawn at random between two pitches: higher notes die sooner, stiffness as on steel strings."""
    partial_one = float(np.exp(rng.uniform(np.log(low_hz), np.log(high_hz))))
    return Pluck(
        partial_one_hz=partial_one,
        inharmonicity=float(np.exp(rng.uniform(np.log(2e-5), np.log(4e-4)))) * (1 + partial_one / 700),
        decay_one_per_s=float(rng.uniform(0.5, 1.2) * (1 + partial_one / 500)),
        decay_growth=float(rng.uniform(0.01, 0.05)),
        pluck_ratio=float(rng.uniform(0.08, 0.3)),
        pickup_ratio=float(rng.uniform(0.05, 0.25)),
    )


def with_glide(pluck: Pluck, rng: np.random.Generator, energy_law: bool = False) -> Pluck:
    """The pluck with 1 to 10 cents of glide: one exponential, or the energy law over all partials."""
    size, tau = float(rng.uniform(1, 10)), float(rng.uniform(0.15, 0.5))
    return replace(pluck, glide_cents=size, glide_s=tau, energy_law=energy_law)


def with_hum(pluck: Pluck, rng: np.random.Generator) -> Pluck:
    """The pluck with mains hum 30 to 45 dB below it, at 50 or 60 Hz, off by up to 0.05 Hz."""
    mains = float(rng.choice([50.0, 60.0]) + rng.uniform(-0.05, 0.05))
    return replace(pluck, hum_db=float(rng.uniform(30, 45)), hum_hz=mains)


def with_second(pluck: Pluck, rng: np.random.Generator) -> Pluck:
    """The pluck with a second polarisation 0.2 to 2 c away, 0.1 to 0.5 as strong."""
    away = float(rng.choice([-1.0, 1.0]) * rng.uniform(0.2, 2.0))
    return replace(pluck, second_ratio=float(rng.uniform(0.1, 0.5)), second_cents=away)
