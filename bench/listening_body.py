"""Resonances of tapped bodies against what was put in."""

import numpy as np

from bench.ears.tapped import RATE_HZ, body, taps
from breakangle.listening.body.taps import resonances_of, taps_in

SEED = 131


def report(quick: bool = False) -> str:
    """Errors of Hz and Q, lines missed, and lines heard where there are none."""
    count = 8 if quick else 100
    off_hz: list[float] = []
    off_q: list[float] = []
    missed = false = 0
    for seed in range(count):
        rng = np.random.default_rng([SEED, seed])
        hz, quality = body(rng)
        found = resonances_of(taps_in(taps(rng, hz, quality), RATE_HZ))
        for f, q in zip(hz, quality, strict=True):
            near = min(found, key=lambda one: abs(np.log(one.hz / f)), default=None)
            if near is None or abs(np.log(near.hz / f)) > 0.05:
                missed += 1
                continue
            off_hz.append(100 * abs(near.hz / f - 1))
            off_q.append(100 * abs(near.quality_ratio / q - 1))
        false += sum(np.abs(np.log(one.hz / hz)).min() > 0.05 for one in found)
    return "\n".join(
        [
            f"{count} tapped bodies of four resonances, six taps each, noise 45 dB below, seed {SEED}",
            f"    Hz: middle {np.median(off_hz):.2f} %, 95 of 100 {np.percentile(off_hz, 95):.2f} %, within 5 % "
            f"{100 * np.mean(np.array(off_hz) < 5):.0f} of 100",
            f"    Q: middle {np.median(off_q):.1f} %, 95 of 100 {np.percentile(off_q, 95):.1f} %, within 5 % "
            f"{100 * np.mean(np.array(off_q) < 5):.0f} of 100",
            f"    missed {missed} of {4 * count}, heard where there are none {false}",
        ]
    )
