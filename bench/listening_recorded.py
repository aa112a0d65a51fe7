"""How well listening repeats on recorded single plucks, against peers.

A recorded note's true pitch is unknown; what can be measured is how well pieces of one note agree. The
string's own settling is no error, so it is taken out of every method alike: from half-second pieces each
method's own best exponential of 0.5 s, from pairs of windows the glide that the joint fit found on the whole
note. Pieces begin 0.5 s after the pluck. Our pieces are given f0 and B of the whole note, as the program has
them too; peers are given the pitch to a third of an octave.
"""

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from bench.listening_peers import cents, peers
from breakangle.listening.pitch.coarse import Coarse
from breakangle.listening.pitch.measure import START_S, Pitch, measure
from listening_fixtures.recorded import long_plucks, soundfont_path

FloatArray = NDArray[np.float64]
SETTLED = "ours, followed to where it settles"
FIRST_S, PIECE_S, WINDOW_S = 0.5, 0.5, 0.7


def piece(samples: FloatArray, rate: int, start_s: float, length_s: float) -> FloatArray:
    """A piece of a note."""
    return samples[round(start_s * rate) : round((start_s + length_s) * rate)]


def known(whole: Pitch) -> Coarse:
    """What the whole note tells of f0 and B."""
    return Coarse(whole.law.fundamental_hz, whole.law.inharmonicity, whole.coarse.partial_count, 1.0)


def settled_scatter(values: FloatArray) -> float:
    """Spread about the best exponential of 0.5 s; needs three values."""
    t = np.arange(len(values)) * PIECE_S
    basis = np.stack([np.ones(len(t)), np.exp(-t / 0.5)], axis=1)
    answer, *_ = np.linalg.lstsq(basis, values, rcond=None)
    return float(np.sqrt(np.sum((values - basis @ answer) ** 2) / (len(values) - 2)))


def glide_between(whole: Pitch, first_s: float, second_s: float) -> float:
    """Cents by which the whole note's fitted glide falls between two windows."""
    shape = whole.solution.shape

    def mean(start_s: float) -> float:
        t = np.linspace(start_s, start_s + WINDOW_S, 50)
        return float(whole.glide_cents * np.mean(np.exp(-shape.glide_rate * t)))

    return mean(first_s) - mean(second_s)


def report(quick: bool = False) -> str:
    """Scatter in cents: median and 90 %."""
    path = soundfont_path()
    if path is None:
        return "NOT MEASURED: apt-get install fluid-soundfont-gm brings the recorded notes"
    notes = long_plucks(path)[:: 4 if quick else 1]
    methods = ["ours", "FFT peak", "praat", "WORLD", "YIN"]
    scatter: dict[str, list[float]] = {name: [] for name in methods}
    apart: dict[str, list[float]] = {name: [] for name in methods}
    moved: dict[str, list[float]] = {name: [] for name in [*methods, SETTLED]}
    for note in notes:
        whole = measure(piece(note.samples, note.rate_hz, START_S, 2.5), note.rate_hz, START_S)
        assert whole is not None
        for name in methods:
            _one(note, whole, name, scatter, apart, moved)
    lines = [f"{len(notes)} recorded plucks, cents, median / 90 %"]
    for words, table in (
        ("scatter of half-second pieces, settling taken out", scatter),
        (f"two windows of {WINDOW_S:g} s apart, glide taken out", apart),
        ("moved by noise at -40 dB", moved),
    ):
        lines.append(f"  {words}")
        for name in table:
            values = np.array(table[name])
            answered = values[np.isfinite(values)]
            middle, high = np.median(answered), np.percentile(answered, 90)
            lines.append(
                f"    {name:34s} {middle:7.4f} / {high:7.4f}   answered {len(answered)} of {len(values)}"
            )
    return "\n".join(lines)


def _one(note, whole, name, scatter, apart, moved) -> None:  # type: ignore[no-untyped-def]
    rate, sound, near = note.rate_hz, note.samples, whole.law.partial_one_hz

    def pitch(part: FloatArray, start_s: float) -> float:
        if name == "ours":
            found = measure(part, rate, start_s, known(whole), settle=False)
            return cents(found.law.partial_one_hz, near) if found else float("nan")
        return cents(peers()[name](part, rate, near), near)

    loud = float(np.mean(piece(sound, rate, 0, 0.1) ** 2))
    values = []
    for k in range(6):
        part = piece(sound, rate, FIRST_S + k * PIECE_S, PIECE_S)
        if len(part) < round(PIECE_S * rate) or np.mean(part**2) < 1e-4 * loud:
            break
        values.append(pitch(part, FIRST_S + k * PIECE_S))
    if len(values) >= 3:
        scatter[name].append(settled_scatter(np.array(values)))
    second_s = FIRST_S + WINDOW_S
    if len(sound) > (second_s + WINDOW_S) * rate:
        pair = [pitch(piece(sound, rate, at, WINDOW_S), at) for at in (FIRST_S, second_s)]
        apart[name].append(abs(pair[0] - pair[1] - glide_between(whole, FIRST_S, second_s)))
    part = piece(sound, rate, START_S, 2.0)
    hiss = 0.01 * np.sqrt(np.mean(part**2)) * np.random.default_rng(0).standard_normal(len(part))
    both = [pitch(p, START_S) for p in (part, part + hiss)]
    moved[name].append(abs(both[0] - both[1]))
    if name == "ours":
        found = [measure(p, rate, START_S) for p in (part, part + hiss)]
        settled = [cents(p.law.partial_one_hz, near) if p else float("nan") for p in found]
        moved[SETTLED].append(abs(settled[0] - settled[1]))
