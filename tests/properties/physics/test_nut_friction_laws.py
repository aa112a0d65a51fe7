"""Laws of friction at the nut: none without head or bend, more of both holds back more; tuning both ways teaches it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle.model.errors import CorrectInputError
from breakangle.physics.string.nut_friction import held_back_cents
from breakangle.planning.state.board import board_of
from breakangle.planning.state.effects.nut_friction import held_back, learned, tuned_variance
from breakangle.planning.state.uncertain_value import Known
from breakangle.services.service_files.example import example_service
from breakangle.services.strings.string_set import strings

frictions = st.floats(0.01, 0.4)
angles = st.floats(0.5, 25.0)
heads_mm = st.floats(5.0, 250.0)


@given(frictions, angles, heads_mm, st.floats(1.01, 3.0))
def test_more_friction_angle_or_head_holds_back_more(friction, angle, head_mm, more):
    def band(m, a, h):
        return float(held_back_cents(friction_ratio=m, break_angle_degrees=a, head_mm=h, length_mm=648.0))

    plain = band(friction, angle, head_mm)
    assert band(friction * more, angle, head_mm) == pytest.approx(more * plain)
    assert band(friction, angle * more, head_mm) == pytest.approx(more * plain)
    assert plain < band(friction, angle, head_mm * more) < more * plain
    assert band(friction, angle, 0.0) == band(0.0, angle, head_mm) == band(friction, 0.0, head_mm) == 0.0


def slid(friction, angle_degrees, head_mm, length_mm, up):
    """What a bend does in cents, by the capstan law: the head's pull differs by exp(m a), then evens out. [derived]"""
    ratio = np.exp(friction * np.radians(angle_degrees) * (1.0 if up else -1.0))
    # Relative stretch goes with pull; the whole length keeps its stretch while it evens out.
    even = (length_mm + head_mm * ratio) / (length_mm + head_mm)
    return 600.0 * np.log2(even)


@given(st.floats(0.05, 0.3), st.floats(3.0, 17.0), st.floats(20.0, 150.0))
def test_the_band_is_what_lies_between_tuned_down_and_tuned_up(friction, angle, head_mm):
    by_law = slid(friction, angle, head_mm, 648.0, True) - slid(friction, angle, head_mm, 648.0, False)
    band = held_back_cents(
        friction_ratio=friction, break_angle_degrees=angle, head_mm=head_mm, length_mm=648.0
    )
    assert float(band) == pytest.approx(by_law, rel=0.03)


@given(st.floats(0.0, 15.0), st.integers(0, 500))
@settings(deadline=None, max_examples=60)
def test_tuning_down_and_up_teaches_the_band(true, seed):
    """A band drawn by hand, read with the tuner's scatter: it lies within four of its own uncertainties."""
    chance = np.random.default_rng(seed)
    down, up = -true + chance.normal(0, 1.4), chance.normal(0, 1.4)
    prior = Known(5.0, 5.0)
    known = learned(prior, down, up)
    assert known.uncertainty < prior.uncertainty
    assert abs(known.value - true) < 4.0 * known.uncertainty
    assert known.value >= 0.0


def test_a_string_that_falls_more_when_tuned_up_teaches_no_band_below_nothing():
    assert 0.0 <= learned(Known(5.0, 3.0), 0.0, -8.0).value < 5.0


def test_wound_strings_are_held_more_than_plain_and_tuning_is_as_wide_as_that():
    board = board_of(example_service().instrument)
    bands = [one.value for one in held_back(board)]
    assert min(bands[3:]) > max(bands[:3]) > 0.0
    assert np.all(tuned_variance(board) >= np.square(bands) / 12.0)


def test_the_set_tells_to_tune_up_and_learns_from_a_bend():
    service = example_service()
    usual = strings(service)
    assert "tune up to it" in usual.words
    taught = strings(service, bent={6: (-5.0, -0.2)}).strings[5].held_back_cents
    assert taught.uncertainty < usual.strings[5].held_back_cents.uncertainty
    loose = strings(service, bent=dict.fromkeys(range(1, 7), (0.0, 0.0)))
    assert max(one.held_back_cents.value for one in loose.strings) < 3.0
    with pytest.raises(CorrectInputError, match="bend for string 9"):
        strings(service, bent={9: (-5.0, 0.0)})
