"""How badly a released string strikes the crowns: impulse, first crown and time, loss of low partials."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.contact.collide import Grid, Prepared, Strikes, heights, prepare, release, run_plain
from breakangle.physics.contact.kernel import Compiled, library
from breakangle.physics.contact.modes import Array, Losses, Notes, Pluck, pluck_shape
from breakangle.physics.contact.start import held_down

PARTS_PER_THREAD = 4
"""Chosen. Notes are worked on in so many parts by each thread, tables and steps alike, so that no thread waits long."""
LOW_PARTIALS = 5
"""Chosen. Partials whose loss is told: the ones that carry the note."""


@dataclass(frozen=True)
class Severity:
    """What M releases did within the grid's periods."""

    impulse_ratio: Array
    """Total impulse over μ L A ω₁ (mass, pluck height, first angular frequency), pure number, (M,)."""
    share_ratio: Array
    """Share of each crown in that impulse, (M, C)."""
    first_crown: NDArray[np.int64]
    """Column of the crown struck first, (M,); −1 where none was."""
    first_ms: Array
    """Time of the first strike, ms, (M,); NaN where there was none."""
    low_loss_ratio: Array
    """Share of the energy of the five lowest partials that the crowns took, against the free string, (M,)."""
    least_force_n: Array
    """Smallest force of any crown, N, (M,): never below zero."""


def usual_grid(period_count: float) -> Grid:
    """How finely to follow contact here: as the reference is, or coarsely where no compiler built the kernel.

    Coarse: a note's impulse is off by 2 % in the middle, one in ten by 8 %, one by 50 % (`python -m bench contact`).

    Source: bench/contact.py: measured here; no physics.
    """
    if library() is not None:
        return Grid(period_count=period_count)
    return Grid(400, 2048, period_count)


def severity(
    notes: Notes,
    owner: NDArray[np.intp],
    height_mm: Array,
    pluck: Pluck,
    losses: Losses | None,
    grid: Grid,
    threads: int = 2,
    compiled: bool = True,
) -> Severity:
    """Release note `owner[m]` from `height_mm[m]` for every m and tell what the crowns did to it.

    A release that would start inside a crown starts with the string held against it instead. With
    `compiled` False, or where the kernel was not built, numpy does the same steps some twenty times slower.

    Source: the steps of `collide`, and the measures of its tables [derived].
    """
    fast = compiled and library() is not None
    chosen, tables = np.unique(owner, return_inverse=True)
    count = PARTS_PER_THREAD * threads if fast else 1
    parts = [part for part in np.array_split(np.arange(len(chosen)), count) if len(part)]
    members = [np.flatnonzero((tables >= part[0]) & (tables <= part[-1])) for part in parts]

    def one(part: NDArray[np.intp], member: NDArray[np.intp]) -> Severity:
        own = notes.take(chosen[part])
        return _of_part(own, tables[member] - part[0], height_mm[member], pluck, losses, grid, fast)

    with ThreadPoolExecutor(threads) as pool:
        done = list(pool.map(one, parts, members))
    order = np.argsort(np.concatenate([*members, np.empty(0, dtype=np.intp)]), kind="stable")
    return Severity(
        *(np.concatenate([getattr(part, name) for part in done])[order] for name in Severity.__annotations__)
    )


def _of_part(
    notes: Notes,
    tables: NDArray[np.intp],
    height_mm: Array,
    pluck: Pluck,
    losses: Losses | None,
    grid: Grid,
    fast: bool,
) -> Severity:
    """Severity of some releases; `tables` (M,) is the note of each."""
    prepared = prepare(notes, losses, grid)
    place = pluck_shape(notes, pluck, grid.mode_count)[tables] * height_mm[:, None] * prepared.kept[tables]
    below = np.any(notes.gap_mm[tables] + heights(prepared, tables, place) < 0.0, axis=1)
    for m in np.flatnonzero(below):
        place[m] = held_down(notes, prepared, int(tables[m]), pluck, float(height_mm[m]))
    state = release(notes, prepared, tables, place)
    if fast:
        Compiled(prepared).run(notes, state, tables, 0, grid.step_count)
    else:
        run_plain(notes, prepared, state, tables, 0, grid.step_count)
    return _tell(prepared, tables, place, height_mm, state, grid)


def _tell(
    prepared: Prepared,
    tables: NDArray[np.intp],
    place: Array,
    height_mm: Array,
    state: Strikes,
    grid: Grid,
) -> Severity:
    step = prepared.step_ms[tables]
    mass, omega = prepared.mass[tables], prepared.omega[tables, 0]
    impulse = state.impulse * step[:, None]
    total = impulse.sum(axis=1)
    struck = state.first >= 0
    soonest = np.where(struck, state.first, np.iinfo(np.int64).max)
    low = slice(0, LOW_PARTIALS)
    weight = prepared.omega[tables, low] ** 2
    free = place[:, low] * np.exp(-prepared.sigma[tables, low] * grid.step_count * step[:, None])
    left = np.sum(weight * (state.place[:, low] ** 2 + state.speed[:, low] ** 2), axis=1)
    return Severity(
        impulse_ratio=total / (2.0 * mass * height_mm * omega),
        share_ratio=np.divide(
            impulse, total[:, None], out=np.zeros_like(impulse), where=total[:, None] > 0.0
        ),
        first_crown=np.where(np.any(struck, axis=1), np.argmin(soonest, axis=1), -1),
        first_ms=np.where(np.any(struck, axis=1), soonest.min(axis=1) * step, np.nan),
        low_loss_ratio=1.0 - left / np.sum(weight * free**2, axis=1),
        least_force_n=state.least_force,
    )
