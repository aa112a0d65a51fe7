"""How far aside a string has to be pushed to rise a semitone, and how hard."""

import math

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.string.feel import bend_force_n, bend_travel_mm
from breakangle.planning.state.uncertain_value import Known

SEMITONE_CENTS = 100.0  # exact: equal temperament


def semitone_bend(
    tension: float, axial: float, length: float, place: float, spreads: tuple[float, float, bool]
) -> tuple[Known, Known]:
    """Return travel (mm) and force (N) of a semitone; spreads: of mass, of EA, whether EA follows tension."""
    mass_sd, axial_sd, follows = spreads
    step = 1e-3
    tensions = tension * np.exp(step * np.array([0.0, 1.0, 0.0]))
    axials = axial * np.exp(step * np.array([0.0, 1.0 if follows else 0.0, 1.0]))
    travel = bend_travel_mm(
        axial_stiffness_n=axials,
        tension_n=tensions,
        length_mm=length,
        place_mm=place,
        rise_cents=SEMITONE_CENTS,
    )
    force = bend_force_n(
        axial_stiffness_n=axials, tension_n=tensions, length_mm=length, place_mm=place, sideways_mm=travel
    )

    def known(values: NDArray[np.float64]) -> Known:
        slopes = (values[1:] - values[0]) / step
        return Known(float(values[0]), float(math.hypot(slopes[0] * mass_sd, slopes[1] * axial_sd)))

    return known(travel), known(force)
