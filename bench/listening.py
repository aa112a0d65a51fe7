"""How far listening is from the truth on made plucks, against peers and the Cramér-Rao bound."""

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from bench.listening_peers import cents, peers, row
from breakangle.listening.pitch.measure import START_S, measure
from listening_fixtures.plucks import (
    Pluck,
    bound_cents,
    random_pluck,
    render,
    with_glide,
    with_hum,
    with_second,
)

LENGTH_S = 2.0
GUITAR, BASS, LOWEST = (82.4, 1318.5), (30.87, 98.0), (30.87, 30.9)
Random = np.random.Generator
Maker = Callable[[Random, tuple[float, float]], Pluck]

KINDS: list[tuple[str, Maker, tuple[tuple[str, tuple[float, float]], ...]]] = [
    (
        "glide and hum, 40 dB",
        lambda rng, span: with_hum(with_glide(random_pluck(rng, *span), rng), rng),
        (("E2 to E6", GUITAR), ("B0 to G2", BASS)),
    ),
    (
        "energy-law glide and hum, 40 dB",
        lambda rng, span: with_hum(with_glide(random_pluck(rng, *span), rng, True), rng),
        (("E2 to E6", GUITAR), ("B0", LOWEST)),
    ),
    (
        "second polarisation, glide and hum, 40 dB",
        lambda rng, span: with_second(with_hum(with_glide(random_pluck(rng, *span), rng), rng), rng),
        (("E2 to E6", GUITAR), ("B0 to G2", BASS)),
    ),
    (
        "clean, 20 dB",
        lambda rng, span: replace(random_pluck(rng, *span), noise_db=20.0),
        (("E2 to E6", GUITAR), ("B0 to G2", BASS)),
    ),
]


def window_of(pluck: Pluck, seed: int) -> np.ndarray:
    """Two seconds of a pluck from 0.12 s on."""
    sound = render(pluck, seed)
    rate = pluck.rate_hz
    return sound[round(START_S * rate) : round((START_S + LENGTH_S) * rate)]


def _accuracy(count: int) -> list[str]:
    lines = [f"Made plucks, {LENGTH_S:g} s, {count} each; error of partial 1 in cents"]
    for words, make, spans in KINDS:
        for place, span in spans:
            rng = np.random.default_rng(11)
            errors: dict[str, list[float]] = {"ours": []} | {name: [] for name in peers()}
            inside = []
            for seed in range(count):
                pluck = make(rng, span)
                sound, rate, true = window_of(pluck, seed), pluck.rate_hz, pluck.partial_one_hz
                found = measure(sound, rate, START_S)
                errors["ours"].append(cents(found.law.partial_one_hz, true) if found else float("nan"))
                if found:
                    inside.append(abs(errors["ours"][-1]) < 1.96 * found.uncertainty_cents)
                for name, peer in peers().items():
                    if name != "pYIN" or seed < max(2, count // 25):
                        errors[name].append(cents(peer(sound, rate, true), true))
            share = 100 * float(np.mean(inside))
            lines.append(f"  {words}, {place} (truth inside our 95 % interval: {share:.0f} %)")
            lines += [row(name, values) for name, values in errors.items()]
    return lines


def _bound(count: int) -> list[str]:
    lines = [f"Clean plucks against the Cramér-Rao bound, {count} each (1 is the best that can be)"]
    for decibels in (40.0, 20.0):
        for place, span in (("E2 to E6", GUITAR), ("B0 to G2", BASS)):
            rng = np.random.default_rng(9)
            ratios = []
            for seed in range(count):
                pluck = replace(random_pluck(rng, *span), noise_db=decibels)
                found = measure(window_of(pluck, seed), pluck.rate_hz, START_S)
                assert found is not None
                off = cents(found.law.partial_one_hz, pluck.partial_one_hz)
                ratios.append(off / bound_cents(pluck, seed, START_S, LENGTH_S))
            lines.append(f"    {decibels:.0f} dB, {place}: {np.sqrt(np.mean(np.square(ratios))):.2f}")
    return lines


def _offset(count: int) -> list[str]:
    """A fretted twelfth 3.10 c above the harmonic, both measured, subtracted."""
    errors = []
    rng = np.random.default_rng(21)
    for seed in range(count):
        low = random_pluck(rng, 82.4, 329.6)
        harmonic = replace(low, partial_one_hz=2 * low.partial_one_hz, inharmonicity=4 * low.inharmonicity)
        fretted = replace(harmonic, partial_one_hz=harmonic.partial_one_hz * 2 ** (3.10 / 1200))
        pair = []
        for each, pluck in enumerate((fretted, harmonic)):
            found = measure(
                window_of(with_hum(with_glide(pluck, rng), rng), 2 * seed + each), 44_100, START_S
            )
            assert found is not None
            pair.append(found.law.partial_one_hz)
        errors.append(cents(pair[0], pair[1]) - 3.10)
    return ["Fretted twelfth minus harmonic, 3.10 c by construction, glide and hum", row("ours", errors)]


def report(quick: bool = False) -> str:
    """Tables of error in cents."""
    count = 12 if quick else 100
    return "\n".join([*_accuracy(count), *_bound(max(40, count)), *_offset(count)])
