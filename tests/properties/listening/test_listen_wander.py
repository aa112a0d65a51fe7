"""A tuner that slips while the string rings: told with its size, and never taken for the pluck's own glide.

Pitch falls after a hard pluck as the energy does (Legge and Fletcher 1984, J. Acoust. Soc. Am. 76, 5); sizes of glide
and drift are our choice, no source.
"""

from dataclasses import replace

import numpy as np
import pytest

from breakangle.listening.takes.judge import Judged, judge
from breakangle.listening.takes.reasons import Verdict
from breakangle.listening.takes.wander import change_of
from listening_fixtures.plucks import Pluck, random_pluck, render, with_glide

FIRST_S = 0.12  # takes are listened to from here on
WOUND = Pluck(110.0, inharmonicity=8e-5, decay_one_per_s=0.9, energy_law=True, noise_db=45.0)
PLAIN = Pluck(329.6, inharmonicity=3e-5, decay_one_per_s=1.4, energy_law=True, noise_db=45.0)
STRINGS = pytest.mark.parametrize("string", [WOUND, PLAIN], ids=["wound", "plain"])


def slipping(string: Pluck, cents: float, length_s: float, from_ratio: float = 0.0) -> Pluck:
    begins = FIRST_S + from_ratio * length_s if from_ratio else 0.0
    whole_s = FIRST_S + length_s
    return replace(string, drift_cents=cents, drift_from_s=begins, drift_to_s=whole_s, duration_s=whole_s)


def judged(pluck: Pluck, seed: int) -> Judged:
    return judge(render(pluck, seed), pluck.rate_hz)


@STRINGS
@pytest.mark.parametrize("glide_cents", [0.0, 4.0, 8.0])
@pytest.mark.parametrize("length_s", [2.0, 3.0])
@pytest.mark.parametrize("cents", [-4.0, -3.0, -2.5, 2.5, 3.0, 4.0])
def test_a_steady_drift_is_never_called_good(
    string: Pluck, glide_cents: float, length_s: float, cents: float
) -> None:
    pluck = slipping(replace(string, glide_cents=glide_cents), cents, length_s)
    assert judged(pluck, round(cents * 2) + 20).verdict is not Verdict.GOOD


@STRINGS
@pytest.mark.parametrize("cents", [-4.0, -3.0, -2.0, 2.0, 3.0, 4.0])
def test_a_drift_from_half_way_is_never_called_good(string: Pluck, cents: float) -> None:
    pluck = slipping(replace(string, glide_cents=3.0), cents, 2.0, from_ratio=0.5)
    assert judged(pluck, round(cents) + 20).verdict is not Verdict.GOOD


@STRINGS
def test_the_size_is_told_in_words(string: Pluck) -> None:
    (why,) = [one for one in judged(slipping(string, -2.6, 2.0), 1).reasons if one.code == "wandered"]
    told = float(why.words.split()[4])
    heard_cents = 2.6 * 2.0 / (FIRST_S + 2.0)  # what came before the first moment listened to is not in it
    assert told == pytest.approx(heard_cents, abs=0.2)
    assert str(told) in str(why) and "pluck again" in str(why)


@STRINGS
@pytest.mark.parametrize("glide_cents", [6.0, 8.0, 10.0])
def test_the_glide_of_a_hard_pluck_stays_good(string: Pluck, glide_cents: float) -> None:
    for seed in range(3):
        found = judged(replace(string, glide_cents=glide_cents, duration_s=2.4), seed)
        assert found.reasons == ()
        assert found.pitch is not None
        assert 1200 * abs(np.log2(found.pitch.law.partial_one_hz / string.partial_one_hz)) < 0.3


@STRINGS
@pytest.mark.parametrize("cents", [-0.5, 0.5])
def test_half_a_cent_is_no_matter(string: Pluck, cents: float) -> None:
    assert judged(slipping(replace(string, glide_cents=2.0), cents, 2.0), 3).reasons == ()


def test_the_size_found_holds_the_truth() -> None:
    """Nearly all drifts lie within twice their standard error, whatever the glide beside them."""
    rng = np.random.default_rng(31)
    inside = []
    for seed in range(40):
        string = with_glide(random_pluck(rng, 82.4, 440.0), rng, energy_law=True)
        cents = float(rng.uniform(-2, 2))
        found = judged(slipping(string, cents, 2.2), seed).pitch
        assert found is not None
        change = change_of(found)
        assert change is not None
        inside.append(abs(change.cents - cents) < 2 * change.spread_cents + 0.2)
    assert np.mean(inside) >= 0.85


def test_a_take_too_short_to_tell_has_no_change() -> None:
    found = judged(replace(WOUND, partial_one_hz=41.2, duration_s=0.6), 1).pitch
    assert found is not None
    assert change_of(found) is None
