"""The decision: the exact motion of the damped stiff string, until it first touches a crown.

Up to the first touch the crowns do nothing, so whether, where and when the string touches is read from u(x,
t) = Σ a_k sin(kπx/L) exp(−σ_k t) cos(ω_k t), evaluated at the crowns on a fine grid of times by one matrix
product per note; a parabola finds the deepest point between the grid's times.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.contact.collide import MOST_DAMPED_RATIO
from breakangle.physics.contact.kernel import library, swing
from breakangle.physics.contact.modes import (
    Array,
    Losses,
    Notes,
    Pluck,
    angular_frequency_per_ms,
    decay_per_ms,
    pluck_shape,
    shapes,
)

# Chosen: how the computation goes, nothing of an instrument.
SPAN = 256
"""Times per row of the grid: times are split in coarse and fine, so that few cosines are needed."""


@dataclass(frozen=True)
class Reach:
    """How far down each note goes at each crown, and when it first goes below given depths."""

    depth: Array
    """Deepest point at each crown per mm of pluck, (N, C), positive down; NaN where there is no crown."""
    first_ms: Array
    """Time of the first touch of any crown at each height, ms, (N, S); NaN where none is touched."""
    first_crown: NDArray[np.int64]
    """Column of the crown touched first, (N, S); −1 where none is touched."""


def reach(
    notes: Notes,
    pluck: Pluck,
    losses: Losses,
    height_mm: Array,
    period_count: float = 8.0,
    mode_count: int = 120,
    times_per_period_count: int = 512,
    threads: int = 2,
    compiled: bool = True,
) -> Reach:
    """Deepest points and first touches of the notes in their first periods, for pluck heights (S,) in mm.

    Source: the sum of damped modes of the module's docstring; a parabola through three times [derived].
    """
    omega = angular_frequency_per_ms(notes, mode_count)
    sigma = np.minimum(decay_per_ms(notes, losses, mode_count), MOST_DAMPED_RATIO * omega)
    exponent = -sigma + 1j * np.sqrt(omega**2 - sigma**2)
    amplitude = pluck_shape(notes, pluck, mode_count)
    shape = shapes(notes, notes.crown_mm, mode_count)
    step = 2.0 * np.pi / omega[:, 0] / times_per_period_count
    rows = int(np.ceil(period_count * times_per_period_count / SPAN))
    found = Reach(
        np.full(notes.gap_mm.shape, np.nan),
        np.full((notes.count, len(height_mm)), np.nan),
        np.full((notes.count, len(height_mm)), -1),
    )

    def one(n: int) -> None:
        there = np.flatnonzero(np.isfinite(notes.crown_mm[n]))
        if len(there) == 0:
            return
        weight = shape[n, there] * amplitude[n]
        if compiled and library() is not None:
            height = swing(np.exp(exponent[n] * step[n]), weight, rows * SPAN)
        else:
            height = _heights(weight, exponent[n], step[n], rows)
        _note_touches(found, n, there, height, notes.gap_mm[n, there], height_mm, step[n])

    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(one, range(notes.count)))
    return found


def _note_touches(
    found: Reach,
    n: int,
    there: NDArray[np.intp],
    height: Array,
    gap_mm: Array,
    height_mm: Array,
    step: float,
) -> None:
    """Write note n's deepest points and first touches into `found`, from its heights (C, times) per mm."""
    deepest, lowest = _deepest(height)
    found.depth[n, there] = deepest
    for s, mm in enumerate(height_mm):
        ratio = gap_mm / mm
        if not np.any(deepest > ratio):
            continue
        below = np.any(height < -ratio[:, None], axis=0)
        first = int(np.argmax(below)) if np.any(below) else int(lowest[np.argmax(deepest - ratio)])
        found.first_ms[n, s] = first * step
        found.first_crown[n, s] = there[np.argmax(-height[:, first] - ratio)]


def _powers(base: NDArray[np.complex128], count: int) -> NDArray[np.complex128]:
    """base⁰ … base^(count−1), shape (K, count), by doubling."""
    out = np.ones((len(base), count), dtype=np.complex128)
    done, power = 1, base.copy()
    while done < count:
        width = min(done, count - done)
        out[:, done : done + width] = out[:, :width] * power[:, None]
        done, power = done + width, power * power
    return out


def _heights(weight: Array, exponent: NDArray[np.complex128], step: float, rows: int) -> Array:
    """Heights of the points with modal weights (C, K) at `rows` · SPAN times from zero, shape (C, times)."""
    fine = _powers(np.exp(exponent * step), SPAN)
    coarse = _powers(np.exp(exponent * step * SPAN), rows).T
    modes = len(exponent)
    left = np.empty((len(weight), rows, 2 * modes))
    np.multiply(weight[:, None, :], coarse.real[None], out=left[:, :, :modes])
    np.multiply(weight[:, None, :], -coarse.imag[None], out=left[:, :, modes:])
    right = np.concatenate([fine.real, fine.imag])
    height: Array = (left.reshape(-1, 2 * modes) @ right).reshape(len(weight), -1)
    return height


def _deepest(height: Array) -> tuple[Array, NDArray[np.intp]]:
    """Deepest point of each row, positive down (a parabola through three samples), and its index."""
    lowest = np.argmin(height, axis=1)
    inner = np.clip(lowest, 1, height.shape[1] - 2)
    row = np.arange(len(height))
    before, at, after = height[row, inner - 1], height[row, inner], height[row, inner + 1]
    bend = np.maximum(before - 2.0 * at + after, 1e-300)
    vertex = at - (before - after) ** 2 / (8.0 * bend)
    return -np.where(lowest == inner, vertex, height[row, lowest]), lowest
