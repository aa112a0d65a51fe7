"""Two polarisations nearly alike, and hum on a partial: plucks of coupled polarisations, which listening does not make.

The seeds are those of `python -m bench listening_shop`; before these rules their takes were doubtful.
"""

import numpy as np
import pytest

from bench.ears.coupled import RATE_HZ
from bench.ears.shop_sounds import hum
from bench.listening_polarised import _pair
from bench.listening_shop import SEED, in_a_room, off_cents, one_pluck
from breakangle.listening.pitch.hum import MULTIPLES, ON_HUM_HZ
from breakangle.listening.pitch.second_line import Lines
from breakangle.listening.stream import takes_in
from breakangle.listening.takes.reasons import Verdict


@pytest.mark.parametrize("seed", [2, 13, 44])
def test_lines_nearly_alike_are_told_apart_and_the_answer_lies_between(seed):
    made = one_pluck(seed)
    (take,) = takes_in(in_a_room(made.sound, np.random.default_rng([SEED + 1, seed])), RATE_HZ)
    assert take.verdict is Verdict.GOOD
    low, high = sorted(made.lines_hz)
    true_cents = 1200 * np.log2(high / low)
    assert take.pitch.lines.apart_cents == pytest.approx(true_cents, rel=0.1)
    assert off_cents(take.pitch.law.partial_one_hz, made) < 0.1


@pytest.mark.parametrize("seed", [4, 6])
def test_hum_on_a_partial_costs_only_that_partial(seed):
    made, rng = one_pluck(seed), np.random.default_rng([SEED + 1, seed])
    (take,) = takes_in(in_a_room(hum(made.sound, rng), rng), RATE_HZ)
    assert take.pitch.hum_hz > 0
    assert take.verdict is Verdict.GOOD
    assert off_cents(take.pitch.law.partial_one_hz, made) < 0.1
    turns = take.pitch.bands.carrier_hz / take.pitch.hum_hz
    turns = turns[turns < MULTIPLES + 0.5]
    assert np.abs(turns - np.round(turns)).min() * take.pitch.hum_hz >= ON_HUM_HZ


def test_the_difference_of_two_plucks_of_one_string_is_as_sure_as_it_says():
    pairs = [one for seed in range(12) if (one := _pair(seed)) is not None]
    assert len(pairs) == 12
    assert sum(abs(error) < 1.96 * spread for error, spread, _ in pairs) >= 11


@pytest.mark.parametrize(("apart", "alike", "swapped"), [(0.0, 0.0, 0.0), (1.0, 0.5, 0.0), (2.0, 1.0, 0.5)])
def test_the_doubt_grows_with_distance_and_likeness_to_that_of_an_even_chance(apart, alike, swapped):
    doubt = Lines(apart, alike, swapped).doubt_cents
    assert 0.0 <= doubt <= apart / np.sqrt(12) + 1e-12  # derived: an even chance between two bounds
    assert Lines(apart, min(alike + 0.1, 1.0), swapped).doubt_cents >= doubt
