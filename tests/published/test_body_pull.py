"""J. Woodhouse (2004), On the synthesis of guitar plucks, Acta Acustica united with Acustica 90, 928.

The law and the condition at the bridge are his; the figures are derived from them by a root search over the whole
complex plane between 180 and 212 Hz, apart from the code (all roots, the one with the longer ring is the string's).
"""

import numpy as np
import pytest

from breakangle.physics.bridge.body_pull import (
    admittance_s_per_kg,
    first_order_pull_cents,
    pull_cents,
    wave_impedance_kg_per_s,
)

# G3, 196 Hz, 74 N, 1.15 g/m on a body of .15 kg and Q 30.
IMPEDANCE = float(wave_impedance_kg_per_s(tension_n=74.0, unit_mass_g_per_m=1.15))


def test_first_order_pull_of_a_third_string_by_a_body_six_hertz_below():
    admittance = admittance_s_per_kg(hz=196.0, resonance_hz=[190.0], mass_kg=[0.15], quality_ratio=[30.0])
    found = first_order_pull_cents(impedance_kg_per_s=IMPEDANCE, admittance_s_per_kg=admittance)
    assert float(found) == pytest.approx(11.2, abs=0.05)


@pytest.mark.parametrize(("body_hz", "cents"), [(190.0, 10.48), (202.0, -10.15), (195.0, 19.44)])
def test_exact_pull_near_the_resonance(body_hz, cents):
    found = pull_cents(
        fundamental_hz=196.0,
        impedance_kg_per_s=IMPEDANCE,
        resonance_hz=[body_hz],
        mass_kg=[0.15],
        quality_ratio=[30.0],
    )
    assert float(found) == pytest.approx(cents, abs=0.01)


def test_first_order_fails_where_the_body_sings_the_note_itself():
    """Within f/Q of the resonance: 3.7 cents against 19.4, derived as above."""
    near = {"resonance_hz": [195.0], "mass_kg": [0.15], "quality_ratio": [30.0]}
    first = first_order_pull_cents(
        impedance_kg_per_s=IMPEDANCE, admittance_s_per_kg=admittance_s_per_kg(hz=196.0, **near)
    )
    exact = pull_cents(fundamental_hz=196.0, impedance_kg_per_s=IMPEDANCE, **near)
    assert abs(float(first) - float(exact)) > 5.0


def test_the_root_satisfies_the_condition_at_the_bridge():
    """-j Z cot(pi f/f_0) + 1/Y = 0 has its real part of the root where the law says, to a thousandth of a cent."""
    body = {"resonance_hz": [101.0, 190.0], "mass_kg": [0.6, 0.15], "quality_ratio": [20.0, 30.0]}
    cents = float(pull_cents(fundamental_hz=196.0, impedance_kg_per_s=IMPEDANCE, **body))
    real_hz = 196.0 * 2.0 ** (cents / 1200.0)

    def miss(f):
        return -1j * IMPEDANCE / np.tan(np.pi * f / 196.0) + 1.0 / admittance_s_per_kg(hz=f, **body)

    decay = np.linspace(0.2, 1.0, 80001)
    away = np.abs(miss(real_hz + 1j * decay))
    assert away.min() < 1e-4 * np.abs(miss(np.array(real_hz * 2.0 ** (2.0 / 1200.0) + 0j)))
