"""Polymer strings in warmth: no sign is claimed before, the set's own way is learned from what was heard."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Room
from breakangle.planning.state.board import board_of
from breakangle.planning.state.effects.warmth import warmth
from breakangle.reference.behaviour import behaviour
from breakangle.reference.expansion import expansion
from breakangle.reference.families import family
from breakangle.reference.strings import make, makes
from breakangle.services.climate.air import Heard, climate
from breakangle.services.service_files.example import empty_service, example_service, usual_instrument

COOL, WARM = Room(temperature_c=20.0, humidity_percent=45.0), Room(temperature_c=28.0, humidity_percent=45.0)
NYLON = board_of(usual_instrument(family("nylon-acoustic-guitar"), "one"))


@pytest.mark.parametrize("key", makes())
def test_every_make_behaves_somehow_and_only_steel_has_a_sign(key):
    of = behaviour(key)
    growth = expansion(of.expands_as).per_k
    assert (of.expands_as == "music-wire") is (make(key).strength is not None)
    assert (abs(growth.mean) > 2.0 * growth.sd) is (of.expands_as == "music-wire")
    assert 0.0 < of.other_loss_ratio < of.bending_loss_ratio < 0.1
    assert 0.0 < of.nut_friction_ratio.mean < 0.26, (
        "Groves and Kemp (2019): less than .26 on every string they measured"
    )


def test_before_anything_is_heard_either_sign_is_open():
    for one in warmth(NYLON):
        assert not one.learned
        assert one.cents_per_k.low < -2.0
        assert one.cents_per_k.high > 2.0


@given(st.floats(-3.5, 3.5), st.integers(0, 300))
@settings(deadline=None, max_examples=40)
def test_the_sets_own_way_is_learned_from_what_was_heard(cents_per_k, seed):
    """Trebles that move alike but for a tenth: all are told within their uncertainty, heard or not."""
    chance = np.random.default_rng(seed)
    own = cents_per_k * (1.0 + 0.1 * chance.normal(size=3))
    warmer_k = 6.0
    heard = {one: float(own[one - 1] * warmer_k + chance.normal()) for one in (1, 2)}
    before, after = warmth(NYLON), warmth(NYLON, heard, warmer_k)
    for index in range(3):
        now = after[index]
        assert now.learned
        assert abs(now.cents_per_k.value - own[index]) < 4.0 * now.cents_per_k.uncertainty
        assert now.cents_per_k.uncertainty < 0.5 * before[index].cents_per_k.uncertainty
    assert after[0].cents_per_k.uncertainty < after[2].cents_per_k.uncertainty
    assert after[3:] == before[3:], "basses are another make"


def test_steel_learns_nothing_from_a_set_and_less_than_a_degree_teaches_nothing():
    steel = board_of(example_service().instrument)
    assert warmth(steel, {1: -30.0}, 8.0) == warmth(steel)
    assert warmth(NYLON, {1: -5.0}, 0.5) == warmth(NYLON)


def test_the_page_says_what_was_heard_and_what_is_open():
    service = empty_service(family("nylon-acoustic-guitar"))
    plain = climate(service, WARM, COOL)
    assert not any("Within the hour" in one for one in plain.sentences), "no sign is known"
    assert any("even in sign" in one for one in plain.not_known)
    heard = Heard({1: -9.0, 2: -8.0, 3: -11.0, 4: 5.0, 5: 4.0, 6: 6.0}, 25.0)
    told = climate(service, WARM, COOL, heard=heard)
    assert told.strings[0].warmth_cents.value == pytest.approx(-9.0 * 8.0 / 5.0, abs=1.5)
    assert told.strings[4].warmth_cents.value == pytest.approx(4.0 * 8.0 / 5.0, abs=1.5)
    assert not any("even in sign" in one for one in told.not_known)
    assert any("set's plain nylon moves by −1.8" in one for one in told.sentences)
    with pytest.raises(CorrectInputError, match="string 9 was heard"):
        climate(service, WARM, COOL, heard=Heard({9: 1.0}))
