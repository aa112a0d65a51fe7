"""How long notes ring, as heard, against the losses put in, on strings by finite differences of the bench's own.

Partial n of such a string falls with σ (1 + g n²) per second (`bench.ears.difference_string`). The time of a note is
that of its lowest six partials, each as loud as it is heard; the true time is taken with the same weights.
"""

import numpy as np

from bench.ears.sounds import RATE_HZ, drawn, recordings
from breakangle.listening.stream import takes_in
from breakangle.services.listening.decays import CARRYING_PARTIALS, SIXTY_DB_NEPERS, rings_s

SEED = 181
SETS = (("steel", 82.4, 196.0, (90.0, 320.0), False), ("bass", 41.2, 98.0, (100.0, 350.0), True))


def report(quick: bool = False) -> str:
    """Errors of the time a note takes to fall by 60 dB."""
    count = 8 if quick else 30
    lines = [f"{count} strings of each set, half by body, half by pickup, noise 40 dB below; seed {SEED}"]
    for number, (name, low, high, axial, bass) in enumerate(SETS):
        rng = np.random.default_rng([SEED, number])
        strings = drawn(rng, count, low, high, axial, bass)
        off: list[float] = []
        untold = 0
        for index, sound in enumerate(recordings(strings, rng)):
            takes = takes_in(sound, RATE_HZ)
            pitch = takes[0].pitch if takes else None
            if pitch is None:
                untold += 1
                continue
            n = pitch.bands.order.astype(float)
            put_in = strings.decay_per_s[index] * (1 + strings.decay_growth[index] * n**2)
            carries = n <= CARRYING_PARTIALS
            weight = np.sqrt(np.sum(np.abs(pitch.solution.lines) ** 2, axis=1))[carries]
            true_s = SIXTY_DB_NEPERS / np.exp(np.average(np.log(put_in[carries]), weights=weight))
            off.append(100 * abs(rings_s(pitch) / true_s - 1))
        size = np.array(off)
        lines.append(
            f"    {name}: off by {np.median(size):.1f} % in the middle, {np.quantile(size, 0.95):.1f} % for 95 of 100, "
            f"within 5 %: {np.sum(size <= 5)} of {count}; not told {untold}"
        )
    return "\n".join(lines)
