"""Forest Products Laboratory (2010), Wood Handbook: Wood as an Engineering Material, FPL-GTR-190: tables 4-2, 4-3 and
13-5; W. T. Simpson (1998), Equilibrium moisture content of wood in outdoor locations in the United States and
worldwide, Research Note FPL-RN-0268.

The moisture figures are practical ones: S. V. Glass, S. L. Zelinka and J. A. Johnson (2014), Investigation of Historic
Equilibrium Moisture Content Data from the Forest Products Laboratory, FPL-GTR-229, finds them unreliable for scientific
purposes. What is held here is that we have them as they are printed, not that they are true of a piece of wood.
"""

import numpy as np
import pytest

from breakangle.physics.climate.wood_moisture import equilibrium_moisture_percent, movement_mm
from breakangle.reference.woods import wood

HUMIDITY_PERCENT = np.arange(5.0, 100.0, 5.0)
SEVENTY_FAHRENHEIT_C = (70.0 - 32.0) / 1.8
# Table 4-2, row 70 F, 5 to 95 percent relative humidity.
MOISTURE_PERCENT = np.array(
    [1.3, 2.5, 3.5, 4.5, 5.4, 6.2, 6.9, 7.7, 8.5, 9.2, 10.1, 11.0, 12.0, 13.1, 14.4, 16.0, 17.9, 20.5, 23.9]
)  # fmt: skip


def test_equilibrium_moisture_row_of_table_4_2():
    """Simpson's equation gives eighteen of nineteen printed digits; at 85 percent 17.95 for 17.9."""
    found = equilibrium_moisture_percent(
        temperature_c=SEVENTY_FAHRENHEIT_C, humidity_percent=HUMIDITY_PERCENT
    )
    misses = HUMIDITY_PERCENT[np.round(found, 1) != MOISTURE_PERCENT]
    assert list(misses) in ([85.0], [])
    assert np.abs(found - MOISTURE_PERCENT).max() < 0.053


def test_movement_of_a_maple_board_by_the_printed_tables():
    """Sugar maple, 56 mm, 45 to 30 percent: -.455 mm tangential, -.213 radial, derived from both tables."""
    dried = MOISTURE_PERCENT[HUMIDITY_PERCENT == 30.0] - MOISTURE_PERCENT[HUMIDITY_PERCENT == 45.0]
    maple = wood("sugar-maple")
    coefficients = np.array([maple.tangential_per_percent, maple.radial_per_percent])
    moved = movement_mm(width_mm=56.0, movement_per_percent=coefficients, moisture_change_percent=dried)
    assert moved == pytest.approx([-0.455, -0.213], abs=0.00051)


def test_movement_of_a_maple_board_by_the_equation():
    """The same from Simpson's equation instead of the rounded table: within its rounding, .003 mm."""
    moisture = equilibrium_moisture_percent(
        temperature_c=SEVENTY_FAHRENHEIT_C, humidity_percent=np.array([30.0, 45.0])
    )
    moved = movement_mm(
        width_mm=56.0,
        movement_per_percent=np.array([0.00353, 0.00165]),
        moisture_change_percent=moisture[0] - moisture[1],
    )
    assert moved == pytest.approx([-0.455, -0.213], abs=0.003)


@pytest.mark.parametrize(
    ("key", "radial", "tangential"),
    [
        ("sugar-maple", 0.00165, 0.00353),
        ("black-walnut", 0.00190, 0.00274),
        ("black-cherry", 0.00126, 0.00248),
        ("white-ash", 0.00169, 0.00274),
        ("bigleaf-maple", 0.00126, 0.00248),
        ("red-maple", 0.00137, 0.00289),
        ("red-alder", 0.00151, 0.00256),
        ("basswood", 0.00230, 0.00330),
        ("yellow-birch", 0.00256, 0.00338),
    ],
)
def test_movement_coefficients_of_table_13_5(key, radial, tangential):
    assert (wood(key).radial_per_percent, wood(key).tangential_per_percent) == (radial, tangential)


# Table 4-3, radial and tangential shrinkage in percent from green to oven dry.
SHRINKAGE = {
    "black-walnut": (5.5, 7.8), "black-cherry": (3.7, 7.1), "white-ash": (4.9, 7.8), "red-alder": (4.4, 7.3),
    "basswood": (6.6, 9.3), "yellow-birch": (7.3, 9.5), "western-redcedar": (2.4, 5.0),
}  # fmt: skip


@pytest.mark.parametrize(("key", "percent"), SHRINKAGE.items())
def test_coefficients_follow_from_the_shrinkage_of_table_4_3(key, percent):
    """1/(3000/S - 20), for shrinkage that begins at 30 percent and is reckoned from 10: to the printed digit."""
    printed = (wood(key).radial_per_percent, wood(key).tangential_per_percent)
    assert [round(1.0 / (3000.0 / each - 20.0), 5) for each in percent] == pytest.approx(printed, abs=1.01e-5)


@pytest.mark.parametrize(
    ("key", "percent"),
    [
        # Forest Products Laboratory, Wood Technology Transfer fact sheets, after M. Chudnoff (1984), Tropical Timbers
        # of the World: green to oven dry. Ebony: 5.5 and 6.5 percent from green to 12 percent, times 30/18.
        ("indian-rosewood", (2.7, 5.8)),
        ("mahogany", (3.0, 4.1)),
        ("ebony", (5.5 * 30 / 18, 6.5 * 30 / 18)),
    ],
)
def test_coefficients_of_imported_woods_follow_from_their_fact_sheets(key, percent):
    printed = (wood(key).radial_per_percent, wood(key).tangential_per_percent)
    assert [1.0 / (3000.0 / each - 20.0) for each in percent] == pytest.approx(printed, rel=0.015)
