"""How likely a levelled board has a note that touches, and which crown to read to know more."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.levelling.conditions import Conditions

Array = NDArray[np.float64]
DRAWS = 2000  # chosen: a chance of 1 in 100 known to about 2 in 1000
SEED = 19  # chosen: the same board is told the same
NEAR_SPREADS = 5.0  # chosen: a gap with more to spare never touches among so many draws


@dataclass(frozen=True)
class Chance:
    """Chance that any note touches; each string's (S,), and each crown's part in what is not known (S, F)."""

    any_touch: float
    by_string: Array
    by_crown: Array


def touch_chance(conditions: Conditions, left_mm: Array, set_spread_mm: tuple[float, float]) -> Chance:
    """Return the chance that a note touches, from draws of what is not known of the crowns and of the setting.

    `left_mm` (M,): gap less swing of every condition after the plan. `set_spread_mm`: of action and of nut clearance.
    """
    one = conditions.heights
    strings, frets = one.string_count, one.fret_count
    random = np.random.default_rng(SEED)
    values, vectors = np.linalg.eigh(one.covariance)
    drawn = random.standard_normal((DRAWS, strings * frets)) * np.sqrt(np.maximum(values, 0.0)) @ vectors.T
    set_by = random.standard_normal((DRAWS, strings, 2)) * np.asarray(set_spread_mm)
    spread = conditions.spread_mm(set_spread_mm)
    touched, by_crown = np.zeros((DRAWS, strings), dtype=bool), np.zeros((strings, frets))
    for string in range(strings):
        near = (conditions.string == string) & (left_mm < NEAR_SPREADS * spread + 1e-9)
        if not near.any():
            continue
        rows, left = conditions.error_rows[near], left_mm[near]
        errors = drawn[:, string * frets : (string + 1) * frets] @ rows.T
        errors += set_by[:, string] @ conditions.set_rows[near].T
        below = errors + left < -1e-9
        touched[:, string] = below.any(axis=1)
        own = np.diag(one.covariance)[string * frets : (string + 1) * frets]
        by_crown[string] = below.mean(axis=0) @ (rows**2 * own / np.maximum(spread[near], 1e-9)[:, None] ** 2)
    return Chance(float(touched.any(axis=1).mean()), touched.mean(axis=0), by_crown)


def read_next(chance: Chance) -> tuple[int, int] | None:
    """Return string and fret (both from 1) of the crown that decides most, or None where nothing is open."""
    if not chance.by_crown.any():
        return None
    string, fret = np.unravel_index(int(np.argmax(chance.by_crown)), chance.by_crown.shape)
    return int(string) + 1, int(fret) + 1
