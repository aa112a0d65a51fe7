"""Old strings ranked: pairs of plucks of one string at two ages, and fresh strings falsely called old."""

import numpy as np

from bench.ears.coupled import RATE_HZ, played
from bench.listening_shop import in_a_room
from breakangle.listening.stream import takes_in
from breakangle.services.listening.forms.ages import Brightness, ages_of, brightness

SEED = 163
LEAST_APART = 0.3  # of the way from new to dead


def _heard(
    seed: int, which: int, hz: float, b: float, losses: tuple[float, float], aged: float
) -> Brightness | None:
    rng = np.random.default_rng([SEED, seed, which])
    made = played(rng, hz, float(rng.uniform(0.05, 0.5)), 2.4, None, b, aged, losses)
    takes = takes_in(in_a_room(made.sound, rng), RATE_HZ)
    return brightness(takes[0].pitch) if takes and takes[0].pitch is not None else None


def report(quick: bool = False) -> str:
    """Pairs ranked rightly, and verdicts on strings as fresh as they were."""
    count = 16 if quick else 200
    right = told = called = fresh = 0
    for seed in range(count):
        rng = np.random.default_rng([SEED, seed])
        hz, b = float(np.exp(rng.uniform(np.log(41), np.log(330)))), float(np.exp(rng.uniform(-10.4, -8.5)))
        losses = float(rng.uniform(0.5, 1.2)), float(rng.uniform(0.01, 0.04))
        young = float(rng.uniform(0.0, 0.7))
        old = float(rng.uniform(young + LEAST_APART, 1.0))
        one, other = (_heard(seed, k, hz, b, losses, age) for k, age in ((1, young), (2, old)))
        again = _heard(seed, 3, hz, b, losses, young)
        if one is None or other is None or again is None:
            continue
        told += 1
        right += other.older_by(one) > 0
        fresh += 1
        called += ages_of({1: again}, {1: one})[0].worn in ("old", "worn")
    return (
        f"{count} strings at two ages at least {LEAST_APART} apart (0 new, 1 dead), seed {SEED}\n"
        f"    ranked rightly {right} of {told} ({100 * right / told:.1f} %); the same age called worn or old "
        f"{called} of {fresh}"
    )
