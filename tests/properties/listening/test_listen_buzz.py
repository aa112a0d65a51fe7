"""A buzz is worst at the pluck: what grows after it comes of polarisations that cancel each other, not of a crown."""

import numpy as np
import pytest

from bench.listening_shop import in_a_room, one_pluck
from breakangle.listening.stream import takes_in
from breakangle.listening.takes.reasons import Verdict

RATE = 44_100
PARTIALS = 20


def cancelling(hz: float, at_s: float) -> np.ndarray:
    """Return a string whose partials from the fifth on almost vanish about so long after the pluck, as two lines of
    each cancel; each line by itself only dies away."""
    rng = np.random.default_rng(6)
    t = np.arange(round(2.4 * RATE)) / RATE
    out = np.zeros(len(t))
    for n in range(1, PARTIALS + 1):
        fall = 0.9 * (1 + 0.03 * n**2)
        phase = rng.uniform(0, 2 * np.pi)
        apart_hz = 0.25 / at_s if n < 5 else 0.5 / (at_s * rng.uniform(0.85, 1.15))
        upright = np.exp(-fall * t) * np.cos(2 * np.pi * n * hz * t + phase)
        share = 0.3 if n < 5 else 0.95
        sideways = share * np.exp(-fall * t) * np.cos(2 * np.pi * (n * hz + apart_hz) * t + phase)
        out += (upright + sideways) / n
    return out


@pytest.mark.parametrize("seed", [114, 126, 212])
def test_coupled_polarisations_are_no_buzz(seed: int) -> None:
    sound = in_a_room(one_pluck(seed).sound, np.random.default_rng([98, seed]))
    take = takes_in(sound, RATE)[0]
    assert take.judged.buzz is not None
    assert not take.judged.buzz.heard
    assert take.verdict is Verdict.GOOD, take.reasons


def test_partials_that_cancel_a_tenth_of_a_second_after_the_pluck_are_no_buzz() -> None:
    take = takes_in(in_a_room(cancelling(110.0, 0.12), np.random.default_rng(3)), RATE)[0]
    assert take.judged.buzz is not None
    assert take.judged.buzz.share_db > -9  # as much seems added as by any buzz
    assert not take.judged.buzz.heard
