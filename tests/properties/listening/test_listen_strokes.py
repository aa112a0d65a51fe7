"""How hard a string was plucked: height and place from made plucks whose glide is that of a known displacement.

The glide follows from the displacement by Legge and Fletcher (1984), J. Acoust. Soc. Am. 76, 5: df/f = EA h²/(8 T L² p
(1 − p)); the plucks fall with the energy of all their partials. Strings by finite differences: `python -m bench
listening_strokes`.
"""

from dataclasses import replace

import numpy as np
import pytest

from breakangle.listening.pitch.measure import START_S, measure
from breakangle.listening.stroke.height import StringFacts, stroke_of
from breakangle.listening.stroke.pluck_point import known_point, pluck_point
from listening_fixtures.plucks import CENTS, Pluck, render

LENGTH_MM, AXIAL_RATIO = 648.0, 150.0
STEEL = StringFacts(LENGTH_MM, AXIAL_RATIO, 0.02, 0.123)


def plucked(height_mm: float, point: float, **more: float) -> Pluck:
    """Return a pluck whose glide is that of a string pulled so far."""
    glide = CENTS * AXIAL_RATIO * height_mm**2 / (8 * LENGTH_MM**2 * point * (1 - point))
    return Pluck(110.0, glide_cents=glide, energy_law=True, pluck_ratio=point, body=False, **more)  # type: ignore[arg-type]


def heard(pluck: Pluck, seed: int = 1):
    sound = render(pluck, seed)
    return measure(sound[round(START_S * pluck.rate_hz) :], pluck.rate_hz, START_S)


@pytest.mark.parametrize(("height_mm", "point"), [(1.2, 0.12), (2.0, 0.2), (3.0, 0.13)])
def test_height_comes_back_with_the_place_known_and_with_the_place_heard(height_mm, point):
    pitch = heard(plucked(height_mm, point))
    known = stroke_of(pitch, STEEL, point * LENGTH_MM)
    by_ear = stroke_of(pitch, STEEL)
    assert abs(known.height_mm / height_mm - 1) < 0.1
    assert abs(by_ear.height_mm / height_mm - 1) < 0.2
    assert known.low_mm < height_mm < known.high_mm
    assert by_ear.low_mm < height_mm < by_ear.high_mm
    assert by_ear.high_mm - by_ear.low_mm > known.high_mm - known.low_mm


def test_no_fall_of_pitch_tells_only_how_far_it_was_not_pulled():
    stroke = stroke_of(heard(replace(plucked(1.0, 0.2), glide_cents=0.0)), STEEL)
    assert not stroke.sure
    assert stroke.low_mm == 0.0
    assert 0.0 < stroke.high_mm < 1.0


def test_a_stretchy_string_was_pulled_further_for_the_same_fall():
    pitch = heard(plucked(2.0, 0.15))
    soft = replace(STEEL, axial_ratio=AXIAL_RATIO / 4)
    assert stroke_of(pitch, soft, 100).height_mm == pytest.approx(2 * stroke_of(pitch, STEEL, 100).height_mm)


def test_a_short_take_tells_nothing():
    pluck = plucked(2.0, 0.2)
    sound = render(pluck, 1)[round(START_S * pluck.rate_hz) :][: round(0.3 * pluck.rate_hz)]
    assert stroke_of(measure(sound, pluck.rate_hz, START_S), STEEL) is None


@pytest.mark.parametrize("share", [0.08, 0.15, 0.27])
def test_the_place_of_a_pluck_is_heard_in_the_missing_partials(share):
    n = np.arange(1.0, 15.0)
    rng = np.random.default_rng(4)
    level = np.abs(np.sin(np.pi * n * share)) / n * np.exp(0.3 * rng.standard_normal(14))
    found = pluck_point(n, level, 0.123, 0.45)
    assert abs(found.middle - share) < 3 * found.spread + 0.005
    assert found.spread < 0.05


def test_levels_that_tell_nothing_leave_the_place_as_unsure_as_it_was():
    n = np.arange(1.0, 5.0)
    found = pluck_point(n, np.exp(2 * np.random.default_rng(1).standard_normal(4)), 0.123, 0.45)
    assert found.spread > 0.02
    assert known_point(0.9, 0.004).middle == pytest.approx(0.1, abs=0.002)
