"""Amounts of adjusters that serve many figures at once: the farthest out counts most, and no cut goes too deep."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Where nothing else is said below: chosen: how the computation goes, nothing of an instrument.
POWER = 4.0  # of the misfit that adjusters for many strings make least: near the greatest, and smooth
FIT_STEPS = 10
WELL_APART = 1e-6  # sine squared between two effects from which the closed form loses no figure; derived


def least_power(effect: Array, off: Array, above: Array, below: Array, limits: tuple[Array, Array]) -> Array:
    """Return the amounts (K,) within `limits` that make the sum of (misfit / edge)^POWER least, by reweighting."""
    if effect.shape[1] == 1 and len(off) == 1:
        return np.clip(-off / effect[0, 0] if effect[0, 0] else np.zeros(1), *limits)
    amounts, free = np.zeros(effect.shape[1]), np.ones(effect.shape[1], dtype=bool)
    for _ in range(effect.shape[1]):
        amounts = _reweighted(effect, off, above, below, amounts, free)
        clipped = np.clip(amounts, *limits)
        over = free & (np.abs(clipped - amounts) > 1e-9)
        amounts = clipped
        if not over.any():
            break
        free &= ~over
        if not free.any():
            break
    return amounts


def _reweighted(
    effect: Array, off: Array, above: Array, below: Array, start: Array, free: NDArray[np.bool_]
) -> Array:
    amounts, part = start.copy(), effect[:, free]
    for turn in range(FIT_STEPS):
        left = off + effect @ amounts
        edge = np.where(left >= 0.0, above, below)
        ratio = np.abs(left) / edge
        weight = np.sqrt(np.maximum(ratio, 0.05 * max(ratio.max(), 1e-9)) ** (POWER - 2.0)) / edge
        fixed = left - part @ amounts[free]
        best = _least_squares(part * weight[:, None], -fixed * weight)
        amounts[free] += (best - amounts[free]) / (POWER - 1.0 if turn else 1.0)
    return amounts


def _least_squares(rows: Array, wanted: Array) -> Array:
    """Return the x that makes the squares of rows · x - wanted least; of one or two unknowns in closed form."""
    gram, pull = rows.T @ rows, rows.T @ wanted
    if len(pull) == 1 and gram[0, 0] > 0.0:
        return np.asarray(pull / gram[0, 0])
    if len(pull) == 2:
        determinant = gram[0, 0] * gram[1, 1] - gram[0, 1] ** 2
        if determinant > WELL_APART * gram[0, 0] * gram[1, 1]:
            crossed = np.array([[gram[1, 1], -gram[0, 1]], [-gram[0, 1], gram[0, 0]]])
            return np.asarray(crossed @ pull / determinant)
    return np.asarray(np.linalg.lstsq(rows, wanted, rcond=None)[0])


def share_not_too_deep(off: Array, moved: Array, deep: Array) -> float:
    """Return which share of the cuts may be made so that nothing they lower ends too deep (0 to 1).

    A string that stands too deep already holds all of it: nothing puts it back.
    """
    room = off + deep
    lowered = moved < -1e-9
    if not lowered.any():
        return 1.0
    return float(np.clip(np.min(room[lowered] / -moved[lowered]), 0.0, 1.0))
