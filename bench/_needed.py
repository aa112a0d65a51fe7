"""How many adjusters had to be touched, by the truth: an integer programme on the simulated instrument itself."""

import copy

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from bench._instruments import SimulatedInstrument
from bench._maker import truth
from breakangle.model.reading import Target


def _levers(one: SimulatedInstrument) -> list[tuple[str, int, float, float]]:
    """Return (what, which, low, high) of every adjuster, in mm or eighths of a turn."""
    found: list[tuple[str, int, float, float]] = [("rod", 0, -12, 12)]
    kind = one.instrument.bridge.kind
    if kind in ("two-post", "one-piece"):
        found += [("post", side, -4.0, 0.0 if kind == "one-piece" else 4.0) for side in (-1, 1)]
    if kind != "two-post":
        found += [
            ("height", i, -0.6 if kind == "one-piece" else -4.0, 0.0 if kind == "one-piece" else 4.0)
            for i in range(one.count)
        ]
    found += [("nut", i, -0.8, 0.0) for i in range(one.count)]
    reach = 0.9 if kind == "one-piece" else 6.0
    return found + [("setback", i, -reach, reach) for i in range(one.count)]


def _moved(one: SimulatedInstrument, what: str, which: int, amount: float) -> SimulatedInstrument:
    other = copy.copy(one)
    if what == "rod":
        other.rod_turns = one.rod_turns + amount / 8.0
        return other
    if what == "post":
        other.saddle_mm = one.saddle_mm + amount * 0.5 * (1.0 + which * one.side / 1.45)
        return other
    field = {"height": "saddle_mm", "nut": "nut_mm", "setback": "setback_mm"}[what]
    changed = getattr(one, field).copy()
    changed[which] += amount
    setattr(other, field, changed)
    return other


def needed_count(one: SimulatedInstrument, targets: tuple[Target, ...], share: float = 1.0) -> int | None:
    """Return the fewest adjusters that bring every target inside `share` of its tolerance; None if none can.

    Linear around the present truth for everything but the rod, whose every eighth is tried as it is.
    """
    levers = _levers(one)[1:]
    best: int | None = None
    for eighths in range(-8, 9):
        turned = _moved(one, "rod", 0, eighths)
        off, tolerance = truth(turned, targets)
        tolerance = tolerance * share
        relief = [i for i, t in enumerate(targets) if t.quantity == "gap" and len(t.held) == 2]  # type: ignore[attr-defined]
        if any(abs(off[i]) > tolerance[i] for i in relief):
            continue
        count = _fewest(turned, targets, levers, off, tolerance)
        if count is not None:
            total = count + (1 if eighths else 0)
            best = total if best is None else min(best, total)
    return best


def _fewest(
    one: SimulatedInstrument,
    targets: tuple[Target, ...],
    levers: list[tuple[str, int, float, float]],
    off: np.ndarray,
    tolerance: np.ndarray,
) -> int | None:
    if np.all(np.abs(off) <= tolerance):
        return 0
    trial = 0.05
    columns = []
    for what, which, _, high in levers:
        step = -trial if high <= 0.0 else trial
        columns.append((truth(_moved(one, what, which, step), targets)[0] - off) / step)
    effect = np.stack(columns, axis=1) / tolerance[:, None]
    effect[np.abs(effect) < 1e-3] = 0.0
    low = np.array([lever[2] for lever in levers])
    high = np.array([lever[3] for lever in levers])
    count, reach = len(levers), np.maximum(high, -low)
    rows = np.vstack(
        [
            np.hstack([effect * reach, np.zeros_like(effect)]),
            np.hstack([np.eye(count), -np.eye(count)]),
            np.hstack([-np.eye(count), -np.eye(count)]),
        ]
    )
    below = np.concatenate([-1.0 - off / tolerance, np.full(2 * count, -np.inf)])
    above = np.concatenate([1.0 - off / tolerance, np.zeros(2 * count)])
    result = milp(
        np.concatenate([np.zeros(count), np.ones(count)]),
        constraints=LinearConstraint(rows, below, above),
        bounds=Bounds(
            np.concatenate([low / reach, np.zeros(count)]), np.concatenate([high / reach, np.ones(count)])
        ),
        integrality=np.concatenate([np.zeros(count), np.ones(count)]),
    )
    return round(float(result.fun)) if result.success else None
