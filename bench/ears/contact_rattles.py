"""Buzzing and clean notes sounded by this project's contact model: boards with one proud crown."""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.append(str(Path(__file__).parents[2] / "tests"))

from breakangle.physics.contact.collide import Grid, prepare, release
from breakangle.physics.contact.kernel import Compiled
from breakangle.physics.contact.linear import reach
from breakangle.physics.contact.modes import Notes, Pluck, pluck_shape
from breakangle.planning.buzz.contact_notes import PERIOD_COUNT, board_notes, losses_of
from breakangle.planning.estimate.estimate import estimate
from breakangle.reference.strength import playing
from contact_setups import service

Array = NDArray[np.float64]
PARTIALS, MODES, STEPS, EVERY = 60, 200, 2048, 16
SECONDS = 1.6
FEWEST_PERIODS = 40
HIGHEST_HZ = 420.0


@dataclass(frozen=True)
class Sounded:
    """One note: force on the saddle and its rate, pitch, what stops it, the crown struck most (0: none), places."""

    force: Array
    rate_hz: float
    hz: float
    stop: int
    crown: int
    frets: Array
    share: Array


def sounded(rng: np.random.Generator, kind: str, proud: bool, count: int) -> list[Sounded]:
    """Notes of one board: where `proud`, those whose touch is of the audible class and up; else those that clear."""
    how = playing(kind)
    fret = int(rng.integers(2, 16))
    crowns = {fret: float(rng.uniform(0.15, 0.45))} if proud else {}
    high = 0.0 if proud else 1.5
    made = service(
        kind=kind, low_mm=2.0 + high, high_mm=1.7 + high, relief_mm=0.25, nut_mm=0.3, crowns=crowns
    )
    board = board_notes(estimate(made).picture)
    pluck = Pluck(float(rng.uniform(60, 150)))
    height = float(rng.uniform(0.25, 0.7))
    losses = losses_of(how)
    depth = reach(board.notes, pluck, losses, np.array([height]), PERIOD_COUNT).depth
    lack = np.nan_to_num(height * depth - board.notes.gap_mm, nan=-np.inf).max(axis=1) / height
    hz = _pitch(board.notes)
    rests = np.any(board.notes.gap_mm <= 0.0, axis=1)
    fit = (lack > how.classes.heard_from_depth_ratio) & ~rests if proud else (lack < -0.05)
    fit &= hz < HIGHEST_HZ
    chosen = rng.permutation(np.flatnonzero(fit))[:count]
    if not len(chosen):
        return []
    notes = board.notes.take(chosen)
    force, rate, impulse = _forces(notes, pluck, np.full(len(chosen), height), losses)
    found = []
    for row in range(len(chosen)):
        there = np.isfinite(notes.crown_mm[row])
        struck = int(np.argmax(impulse[row])) + 1 if impulse[row].max() > 0 else 0
        share = notes.crown_mm[row, there] / notes.length_mm[row]
        stop = int(board.stop[chosen[row]])
        frets = np.flatnonzero(there) + 1
        found.append(
            Sounded(force[row], float(rate[row]), float(hz[chosen[row]]), stop, struck, frets, share)
        )
    return found


def _pitch(notes: Notes) -> Array:
    speed = np.sqrt(notes.tension_n / (notes.unit_mass_g_per_m * 1e-3))
    return np.asarray(1e3 * speed / (2 * notes.length_mm))


def _forces(notes: Notes, pluck: Pluck, height_mm: Array, losses: object) -> tuple[Array, Array, Array]:
    """Force on the saddle (M, T), samples a second (M,), and impulse on each crown (M, C)."""
    periods = max(FEWEST_PERIODS, float(np.ceil(SECONDS * _pitch(notes).max())))
    grid = Grid(MODES, STEPS, periods)
    each = np.arange(notes.count)
    prepared = prepare(notes, losses, grid)  # type: ignore[arg-type]
    place = pluck_shape(notes, pluck, grid.mode_count) * height_mm[:, None] * prepared.kept
    state = release(notes, prepared, each, place)
    k = np.arange(1, PARTIALS + 1)
    weight = k * (-1.0) ** k
    count = grid.step_count // EVERY
    out = np.empty((notes.count, count))
    runner = Compiled(prepared)
    # Strings that can touch nothing any more are left out by the kernel: theirs is the free motion.
    turn = (lambda c, s: c - 1j * s)(*prepared.turn(EVERY))[:, :PARTIALS]
    free = place[:, :PARTIALS].astype(np.complex128)
    for at in range(count):
        runner.run(notes, state, each, at * EVERY, EVERY)
        free = free * turn
        still = ~state.live.any(axis=1)
        out[:, at] = np.where(still, free.real @ weight, state.place[:, :PARTIALS] @ weight)
    return out, np.asarray(1e3 / (prepared.step_ms * EVERY)), state.impulse
