"""Laws of the bent string: it is `bend_cents` at the middle, its force is the slope of its energy, it inverts."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from breakangle.physics.string.feel import bend_force_n, bend_travel_mm, bent_cents, pushed_tension_n
from breakangle.physics.string.laws import bend_cents
from breakangle.services.service_files.example import example_service
from breakangle.services.strings.string_set import UnitMass, printed, strings, weighed

STRING = st.fixed_dictionaries(
    {
        "axial_stiffness_n": st.floats(2e3, 6e4),
        "tension_n": st.floats(30.0, 200.0),
        "length_mm": st.floats(320.0, 900.0),
    }
)
SHARE = st.floats(0.1, 0.9)


@given(STRING, st.floats(0.1, 40.0))
def test_at_the_middle_it_is_the_published_bend(string, aside):
    at_middle = bent_cents(**string, place_mm=string["length_mm"] / 2.0, sideways_mm=aside)
    assert at_middle == pytest.approx(float(bend_cents(**string, sideways_mm=aside)), rel=1e-9, abs=1e-9)


@given(STRING, SHARE, st.floats(5.0, 250.0))
def test_travel_is_the_inverse_of_the_bend(string, share, cents):
    place = share * string["length_mm"]
    travel = bend_travel_mm(**string, place_mm=place, rise_cents=cents)
    farthest = bent_cents(**string, place_mm=place, sideways_mm=string["length_mm"])
    assert bool(np.isfinite(travel)) == bool(farthest >= cents)
    assume(farthest >= cents)
    assert bent_cents(**string, place_mm=place, sideways_mm=travel) == pytest.approx(cents, rel=1e-6)


def test_a_rise_that_no_travel_brings_has_none():
    """A slack, stretchy string pressed near its saddle: the short sounding part grows faster than the pull."""
    soft = {"axial_stiffness_n": 2000.0, "tension_n": 200.0, "length_mm": 650.0}
    assert np.isnan(bend_travel_mm(**soft, place_mm=0.9 * 650.0, rise_cents=100.0))
    assert np.isfinite(bend_travel_mm(**soft, place_mm=0.5 * 650.0, rise_cents=100.0))


@given(STRING, SHARE, st.floats(1.0, 40.0))
def test_force_is_the_slope_of_the_strings_energy(string, share, aside):
    """Energy T e + EA e^2 / (2 L) over the length e by which the string grows: an independent road to the force."""
    place = share * string["length_mm"]

    def energy(y: float) -> float:
        grown = np.hypot(place, y) + np.hypot(string["length_mm"] - place, y) - string["length_mm"]
        return float(
            string["tension_n"] * grown + string["axial_stiffness_n"] * grown**2 / (2.0 * string["length_mm"])
        )

    step = 1e-3
    slope = (energy(aside + step) - energy(aside - step)) / (2.0 * step)
    assert bend_force_n(**string, place_mm=place, sideways_mm=aside) == pytest.approx(slope, rel=1e-4)


@given(STRING, SHARE, st.floats(0.0, 40.0), st.floats(0.1, 10.0))
def test_farther_is_tighter_and_harder(string, share, aside, more):
    place = share * string["length_mm"]
    same = {**string, "place_mm": place}
    assert pushed_tension_n(**same, sideways_mm=aside + more) > pushed_tension_n(**same, sideways_mm=aside)
    assert bend_force_n(**same, sideways_mm=aside + more) > bend_force_n(**same, sideways_mm=aside)
    assert pushed_tension_n(**same, sideways_mm=0.0) == pytest.approx(string["tension_n"])


@given(st.floats(0.05, 12.0), st.floats(200.0, 2000.0))
def test_weighing_gives_mass_over_length_and_its_own_doubt(g_per_m, length):
    found = weighed(g_per_m * length / 1000.0, length)
    assert found.g_per_m == pytest.approx(g_per_m)
    twice = weighed(2.0 * g_per_m * length / 1000.0, 2.0 * length)
    assert twice.uncertainty < found.uncertainty
    assert printed(round(g_per_m, 2), 2).uncertainty >= 0.005 * round(g_per_m, 2)


@settings(max_examples=20, deadline=None)
@given(st.integers(1, 6), st.floats(0.8, 1.25))
def test_tension_follows_unit_mass_and_so_does_the_balance(number, factor):
    service = example_service()
    before = strings(service)
    mass = before.strings[number - 1].unit_mass_g_per_m.value * factor
    after = strings(service, {number: UnitMass(mass, 0.001 * mass, "weighed")})
    one = after.strings[number - 1]
    assert one.tension_n.value == pytest.approx(factor * before.strings[number - 1].tension_n.value)
    assert one.tension_n.uncertainty == pytest.approx(0.001 * one.tension_n.value)
    assert after.total_n.value == pytest.approx(sum(each.tension_n.value for each in after.strings))
    assert np.mean([each.tension_of_mean_ratio for each in after.strings]) == pytest.approx(1.0)
    others = [each for each in range(1, 7) if each != number]
    for each in others:
        assert after.strings[each - 1].tension_n == before.strings[each - 1].tension_n
