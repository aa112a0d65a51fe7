"""The same instrument, months later: what season, playing and new strings have done to the hidden truth."""

import numpy as np

from bench._instruments import SimulatedInstrument

SEASON_RELIEF_MM = 0.12
SADDLE_DRIFT_MM = 0.02
NUT_WEAR_MM = 0.004
SETBACK_SHIFT_MM = 0.3


def months_later(one: SimulatedInstrument, seed: int) -> None:
    """Change the instrument in place, as half a year would."""
    rng = np.random.default_rng(seed + 77)
    one.bow_mm = one.bow_mm + one.load_mm * rng.normal(0.0, SEASON_RELIEF_MM)
    one.saddle_mm = one.saddle_mm + rng.normal(0.0, SADDLE_DRIFT_MM, one.count)
    one.nut_mm = one.nut_mm - np.abs(rng.normal(0.0, NUT_WEAR_MM, one.count))
    one.setback_mm = one.setback_mm + rng.normal(0.0, SETBACK_SHIFT_MM, one.count)
    # New strings of the same make: each a little other than the last.
    one.axial_ratio = one.axial_ratio * np.exp(rng.normal(0.0, 0.03, one.count))
    one.stiffness_ratio = one.stiffness_ratio * np.exp(rng.normal(0.0, 0.03, one.count))
