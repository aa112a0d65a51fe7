"""Laws of a body that gives way: nothing from a heavy one, the side tells the sign, far away the first order holds."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle.physics.bridge.body_pull import admittance_s_per_kg, first_order_pull_cents, pull_cents

notes_hz = st.floats(80.0, 700.0)
bodies_hz = st.floats(90.0, 400.0)
masses_kg = st.floats(0.05, 1.0)
qualities = st.floats(8.0, 60.0)
impedances = st.floats(0.1, 0.8)


def pull(note_hz, body_hz, mass_kg, quality, impedance, partial=1):
    return float(
        pull_cents(
            fundamental_hz=note_hz,
            impedance_kg_per_s=impedance,
            resonance_hz=[body_hz],
            mass_kg=[mass_kg],
            quality_ratio=[quality],
            partial=partial,
        )
    )


@given(notes_hz, bodies_hz, qualities, impedances)
@settings(deadline=None, max_examples=40)
def test_a_body_as_heavy_as_a_wall_pulls_nothing(note_hz, body_hz, quality, impedance):
    assert abs(pull(note_hz, body_hz, 1e6, quality, impedance)) < 1e-3


@given(bodies_hz, masses_kg, qualities, impedances, st.floats(1.2, 2.5))
@settings(deadline=None, max_examples=40)
def test_above_the_resonance_sharp_and_below_it_flat(body_hz, mass_kg, quality, impedance, apart):
    assert pull(body_hz * apart, body_hz, mass_kg, quality, impedance) > 0.0
    assert pull(body_hz / apart, body_hz, mass_kg, quality, impedance) < 0.0


@given(bodies_hz, masses_kg, qualities, impedances, st.floats(1.35, 2.5), st.sampled_from([1, 2]))
@settings(deadline=None, max_examples=40)
def test_far_from_the_resonance_the_first_order_holds(body_hz, mass_kg, quality, impedance, apart, partial):
    for note_hz in (body_hz * apart, body_hz / apart):
        admittance = admittance_s_per_kg(
            hz=note_hz, resonance_hz=[body_hz], mass_kg=[mass_kg], quality_ratio=[quality]
        )
        first = float(
            first_order_pull_cents(
                impedance_kg_per_s=impedance, admittance_s_per_kg=admittance, partial=partial
            )
        )
        exact = pull(note_hz / partial, body_hz, mass_kg, quality, impedance, partial)
        # The next order is the square of the pull, and what the note's own move does to the admittance.
        assert abs(exact - first) < 0.02 + 0.02 * first**2


def test_a_harmonic_is_pulled_half_as_much_as_a_stopped_note_of_its_pitch():
    """n stands under the pull: the open string's octave partial is twice as long as the stopped string. [derived]"""
    stopped = pull(392.0, 210.0, 0.15, 30.0, 0.3)
    harmonic = pull(196.0, 210.0, 0.15, 30.0, 0.3, partial=2)
    assert abs(harmonic / stopped - 0.5) < 0.01


def test_no_resonance_pulls_nothing_and_every_shape_broadcasts():
    nothing = pull_cents(
        fundamental_hz=[100.0, 200.0],
        impedance_kg_per_s=0.3,
        resonance_hz=[],
        mass_kg=[],
        quality_ratio=[],
    )
    assert np.array_equal(nothing, [0.0, 0.0])
    found = pull_cents(
        fundamental_hz=np.array([[196.0], [247.0]]),
        impedance_kg_per_s=0.3,
        resonance_hz=[101.0, 190.0],
        mass_kg=[0.6, 0.15],
        quality_ratio=[20.0, 30.0],
        partial=np.array([1, 2, 3]),
    )
    assert found.shape == (2, 3)
