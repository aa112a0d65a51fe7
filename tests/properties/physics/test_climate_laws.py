"""Laws of wood in air: wetter air, wetter wood; movement adds up and turns back."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from breakangle.physics.climate.wood_moisture import equilibrium_moisture_percent, movement_mm

temperatures_c = st.floats(0.0, 45.0)
humidities = st.floats(1.0, 97.0)


@given(temperatures_c, humidities, st.floats(0.5, 2.0))
def test_wetter_air_makes_wetter_wood(temperature_c, humidity, more):
    drier, wetter = equilibrium_moisture_percent(
        temperature_c=temperature_c, humidity_percent=[humidity, humidity + more]
    )
    assert 0.0 < drier < wetter < 35.0


@given(st.floats(5.0, 40.0), st.floats(20.0, 90.0))
def test_warmer_air_of_the_same_humidity_dries(temperature_c, humidity):
    cool, warm = equilibrium_moisture_percent(
        temperature_c=[temperature_c, temperature_c + 2.0], humidity_percent=humidity
    )
    assert warm < cool


@given(st.floats(1.0, 500.0), st.floats(0.0005, 0.005), st.floats(-8.0, 8.0), st.floats(-8.0, 8.0))
def test_movement_adds_up_and_turns_back(width_mm, per_percent, first, second):
    def moved(change):
        return movement_mm(
            width_mm=width_mm, movement_per_percent=per_percent, moisture_change_percent=change
        )

    assert np.isclose(moved(first) + moved(second), moved(first + second), rtol=0.0, atol=1e-9)
    assert moved(-first) == -moved(first)
    assert moved(0.0) == 0.0


def test_any_shape_broadcasts():
    found = equilibrium_moisture_percent(
        temperature_c=np.array([[10.0], [20.0], [30.0]]), humidity_percent=np.array([30.0, 45.0, 60.0, 75.0])
    )
    assert found.shape == (3, 4)
    alone = equilibrium_moisture_percent(temperature_c=20.0, humidity_percent=60.0)
    assert found[1, 2] == alone
