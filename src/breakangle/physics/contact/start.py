"""A string held down on the crowns by the pluck: the shape from which such a release starts."""

import numpy as np

from breakangle.physics.contact.collide import Prepared
from breakangle.physics.contact.modes import Array, Notes, Pluck


def held_down(notes: Notes, prepared: Prepared, note: int, pluck: Pluck, height_mm: float) -> Array:
    """Modal places, mm, (K,), of note number `note` held at the pluck, `height_mm` from rest, on crowns.

    Balance of string, pluck force and crown springs within the kept modes. The crowns that carry are found
    by letting go of those that would pull and adding the deepest until none is left below its crown; the
    pushes of a taut string on one-sided springs have one solution only.

    Source: balance of forces on the kept modes, the carrying crowns found by an active set [derived].
    """
    stiffness = prepared.mass[note] * prepared.omega[note] ** 2
    k = np.arange(1.0, len(stiffness) + 1.0)
    length = notes.length_mm[note]
    angle = np.pi * float(pluck.from_stop_mm(np.array(length))) / length
    hand = np.sin(angle * k) * prepared.kept[note]
    wanted = height_mm if pluck.away else -height_mm
    there = np.flatnonzero(np.isfinite(notes.gap_mm[note]))
    shape = prepared.shape[note, there]
    gap = notes.gap_mm[note, there]
    give = np.concatenate([shape, hand[None, :]])
    answer = (give / stiffness) @ give.T
    carrying = np.zeros(len(there), dtype=bool)
    force = np.zeros(len(there) + 1)
    for _ in range(4 * len(there) + 4):
        force = _balance(answer, gap, carrying, wanted, prepared.spring)
        if np.any(pulling := force[:-1] < 0.0):
            carrying &= ~pulling
            continue
        below = np.where(carrying, -np.inf, -(gap + answer[:-1] @ force))
        if below.size == 0 or below.max() <= 0.0:
            break
        carrying[np.argmax(below)] = True
    place: Array = (give.T @ force) / stiffness
    return place


def _balance(answer: Array, gap: Array, carrying: Array, wanted: float, spring: float) -> Array:
    """Forces at crowns and pluck, N: carrying crowns at spring · depth, the pluck at its wanted height."""
    used = np.append(np.flatnonzero(carrying), len(gap))
    system = answer[np.ix_(used, used)].copy()
    system[np.arange(len(used) - 1), np.arange(len(used) - 1)] += 1.0 / spring
    force = np.zeros(len(gap) + 1)
    force[used] = np.linalg.solve(system, np.append(-gap[carrying], wanted))
    return force
