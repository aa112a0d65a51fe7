"""J. Woodhouse (2004), Plucked guitar transients: comparison of measurements and synthesis, Acta Acustica 90, 945.

His law of a string's loss factor, (T (eta_F + eta_A/w) + B eta_B k²)/(T + B k²), and two of his nylon strings; the
digits were seen at second hand, their powers of ten are from memory (the printed Q of low partials is some thousands).
"""

import numpy as np
import pytest

from breakangle.physics.contact.modes import Losses, Notes, angular_frequency_per_ms, decay_per_ms
from breakangle.reference.behaviour import behaviour

# Note: mass g/m, tension N, bending stiffness N m², eta_F, eta_B.
STRINGS = {"G3": (0.90, 58.3, 310e-6, 1.4e-4, 0.020), "E4": (0.38, 70.3, 130e-6, 4.0e-4, 0.024)}
LENGTH_MM = 650.0


@pytest.mark.parametrize("note", STRINGS)
def test_loss_of_the_material_is_his_law(note):
    mass, tension, bending, rest, in_bending = STRINGS[note]
    notes = Notes(
        length_mm=np.array([LENGTH_MM]),
        tension_n=np.array([tension]),
        unit_mass_g_per_m=np.array([mass]),
        bending_stiffness_n_mm2=np.array([bending * 1e6]),
        diameter_mm=np.array([1.0]),
        crown_mm=np.zeros((1, 0)),
        gap_mm=np.zeros((1, 0)),
        bending_loss_ratio=np.array([in_bending]),
        other_loss_ratio=np.array([rest]),
    )
    without_air = Losses(0.0, 0.0)
    loss = 2.0 * decay_per_ms(notes, without_air, 20) / angular_frequency_per_ms(notes, 20)
    wave_number = np.arange(1, 21) * np.pi / (LENGTH_MM * 1e-3)
    bent = bending * wave_number**2
    his = (tension * rest + bent * in_bending) / (tension + bent)
    # He divides by the whole stiffness, this law by the tension's alone: the share is the bending's.
    assert np.all(np.abs(loss[0] / his - 1.0) <= 1.01 * bent / tension + 1e-9)


def test_the_table_holds_what_he_found_of_nylon():
    plain = behaviour("plain-nylon")
    assert 0.020 <= plain.bending_loss_ratio <= 0.024
    assert 1.4e-4 <= plain.other_loss_ratio <= 4.0e-4
