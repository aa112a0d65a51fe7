"""A fretted note minus its harmonic where both polarisations sound: does the difference's interval hold the truth?

Both notes are of one string whose polarisations lie 0.2 to 0.8 c apart before they are joined; each is plucked in its
own way.
"""

import numpy as np

from bench.ears.coupled import RATE_HZ, played
from bench.listening_shop import in_a_room
from breakangle.listening.pitch.measure import Pitch
from breakangle.listening.stream import takes_in
from breakangle.listening.takes.reasons import Verdict

SEED = 5


def _pair(seed: int) -> tuple[float, float, bool] | None:
    """Error of the difference in cents, its standard uncertainty, and whether both takes are good."""
    rng = np.random.default_rng([SEED, seed])
    hz, apart = float(np.exp(rng.uniform(np.log(165), np.log(660)))), float(rng.uniform(0.2, 0.8))
    apart *= float(rng.choice([-1, 1]))
    sharp = float(rng.normal(0, 6))
    found: list[Pitch] = []
    good = True
    for cents in (sharp, 0.0):
        made = played(rng, hz * 2 ** (cents / 1200), apart, 2.4, float(rng.uniform(0.5, 4)))
        takes = takes_in(in_a_room(made.sound, rng), RATE_HZ)
        if not takes or takes[0].pitch is None:
            return None
        found.append(takes[0].pitch)
        good = good and takes[0].verdict is Verdict.GOOD
    fretted, harmonic = (one.law.partial_one_hz for one in found)
    spread = float(np.hypot(*(one.uncertainty_cents for one in found)))
    return float(1200 * np.log2(fretted / harmonic) - sharp), spread, good


def report(quick: bool = False) -> str:
    """How often the 95 % interval of the difference holds the truth."""
    count = 20 if quick else 250
    pairs = [one for seed in range(count) if (one := _pair(seed)) is not None]
    error, spread, good = (np.array(column) for column in zip(*pairs, strict=True))
    inside = np.abs(error) < 1.96 * spread
    return (
        f"{count} fretted notes against their harmonics, polarisations 0.2 to 0.8 c apart, seed {SEED}\n"
        f"    both good {100 * np.mean(good):.0f} %; the difference lies inside its 95 % interval in "
        f"{100 * np.mean(inside):.1f} % of all and {100 * np.mean(inside[good]):.1f} % of those; off by "
        f"{np.median(np.abs(error)):.2f} c in the middle, 95 of 100 {np.percentile(np.abs(error), 95):.2f} c"
    )
