"""Does listening know when it is wrong? Intervals, nasty takes, clean takes, silence, names."""

import sys
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from bench.listening_peers import cents
from breakangle.listening.naming.naming import name_row
from breakangle.listening.stream import takes_in
from breakangle.listening.takes.reasons import Verdict
from listening_fixtures.nasty import KINDS
from listening_fixtures.plucks import random_pluck, render, with_glide, with_hum, with_second
from listening_fixtures.tunings import TUNINGS, played_rows

FIRST_SEED = 2000  # the limits of the checks were set on other seeds, but for two_strings 2018 and 2022
SPANS = ((82.4, 1318.5), (30.87, 98.0))


def in_a_room(sound: np.ndarray, rng: np.random.Generator, rate: int = 44_100) -> np.ndarray:
    """The sound after 0.2 s of a quiet room."""
    return np.concatenate([1e-4 * rng.standard_normal(rate // 5), sound])


def _nasty(count: int) -> list[str]:
    lines = [
        f"Nasty takes, {count} of each kind: verdicts, and answers called good that are more than 1 c wrong"
    ]
    total, wrong = 0, 0
    for kind, make in KINDS.items():
        verdicts: Counter[str] = Counter()
        bad = []
        for seed in range(count):
            rng = np.random.default_rng([FIRST_SEED + seed, len(kind), ord(kind[0])])
            sound, truths = make(rng)
            for take in takes_in(in_a_room(sound, rng), 44_100):
                verdicts[take.verdict.value] += 1
                if take.verdict is Verdict.GOOD and take.pitch is not None:
                    offs = [abs(cents(take.pitch.law.partial_one_hz, true)) for true in truths]
                    if min(offs, default=np.inf) > 1:
                        bad.append(min(offs, default=np.inf))
        total, wrong = total + count, wrong + len(bad)
        told = ", ".join(f"{name} {verdicts[name]}" for name in ("good", "doubtful", "refused"))
        lines.append(f"    {kind:14s} {told}; wrong {len(bad)} {[round(b, 2) for b in bad] or ''}")
    return [*lines, f"    all {total} cases: {wrong} wrong answers called good"]


def _clean(count: int) -> list[str]:
    makers = {
        "glide and hum": lambda rng, span: with_hum(with_glide(random_pluck(rng, *span), rng, True), rng),
        "and a second polarisation": lambda rng, span: with_second(
            with_hum(with_glide(random_pluck(rng, *span), rng, True), rng), rng
        ),
    }
    lines = []
    for words, make in makers.items():
        rng = np.random.default_rng(5)
        flagged, inside, inside_own, z = 0, 0, 0, 0
        for seed in range(count):
            pluck = make(rng, SPANS[seed % 2])
            takes = takes_in(in_a_room(render(pluck, seed), rng), pluck.rate_hz)
            flagged += len(takes) != 1 or takes[0].verdict is not Verdict.GOOD
            for take in takes[:1]:
                if take.pitch is not None and take.verdict is Verdict.GOOD:
                    off = abs(cents(take.pitch.law.partial_one_hz, pluck.partial_one_hz))
                    z += 1
                    inside += off < 1.96 * take.pitch.uncertainty_cents
                    inside_own += off < 1.96 * take.pitch.spread_cents
        lines.append(
            f"    {words}: flagged {100 * flagged / count:.1f} %; 95 % intervals hold the truth in "
            f"{100 * inside / z:.0f} % (without the 0.1 c floor: {100 * inside_own / z:.0f} %)"
        )
    return [f"Clean takes, {count} of each", *lines]


def _names(count: int) -> list[str]:
    right, total = 0, 0
    for tuning in TUNINGS:
        for strings, items, pitches in played_rows(tuning, count):
            for item, name in zip(items, name_row(pitches, strings), strict=True):
                kind = (
                    "open" if name and name.fret == 0 else "harmonic" if name and name.harmonic else "fretted"
                )
                right += name is not None and (name.string, kind) == (item.string, item.kind)
                total += 1
    return [
        f"Naming: {right} of {total} right ({100 * right / total:.2f} %) in {len(TUNINGS)} tunings, strings to 60 c off"
    ]


def report(quick: bool = False) -> str:
    """Verdicts, intervals, names."""
    quiet = [
        takes_in(level * np.random.default_rng(1).standard_normal(132_300), 44_100)
        for level in (0, 1e-4, 0.1)
    ]
    heard = sum(take.pitch is not None and take.verdict is Verdict.GOOD for takes in quiet for take in takes)
    return "\n".join(
        [
            *_nasty(8 if quick else 40),
            *_clean(30 if quick else 200),
            *_names(4 if quick else 16),
            f"Silence and noise: {heard} good readings",
        ]
    )
