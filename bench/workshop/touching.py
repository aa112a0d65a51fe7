"""Which notes truly touch: a damped stiff string let go from a corner, by this bench's own sum of its modes.

Nothing here follows the planner's contact room: the corner is a triangle's, the modes are summed over times that are as
fine as the highest of them, and the loss is one time constant for each mode. Only what a hand does (how high, where)
is taken from the tables, because the question is where a hand that is known makes notes touch.
"""

from dataclasses import dataclass

import numpy as np

from bench.workshop.instrument import Array, WorkshopInstrument
from breakangle.reference.strength import STRENGTHS, playing

MODES = 96
PERIODS, STEPS_A_PERIOD = 8, 512
# Loss: of every mode as of the air and the ends, and more of the high ones, of the size of published steel strings'
# (quality factors of some thousands at the lowest modes); from memory.
LOSS_RATIO, HIGH_LOSS_RATIO = 3e-4, 2e-7
NEAREST_STOP_SHARE = 0.75  # a hand never plucks nearer to the stop than so far from the saddle


@dataclass(frozen=True)
class Touched:
    """Notes in order of string and stop, (N,), and whether each touches at every strength, (N, strengths)."""

    string: Array
    stop: Array
    touches: Array


def depths(length_mm: float, along_mm: Array, from_saddle_mm: float, stiffness_ratio: float) -> Array:
    """Return how far the string swings below rest at `along_mm` from the stop, for each mm it was lifted."""
    k = np.arange(1.0, MODES + 1.0)
    pluck = length_mm - min(from_saddle_mm, NEAREST_STOP_SHARE * length_mm)
    share = pluck / length_mm
    triangle = 2.0 / (np.pi**2 * k**2 * share * (1.0 - share)) * np.sin(np.pi * k * share)
    pitch = k * np.sqrt(1.0 + (np.pi * stiffness_ratio * k) ** 2)
    time = np.arange(1, PERIODS * STEPS_A_PERIOD) / STEPS_A_PERIOD
    loss = np.pi * pitch * (LOSS_RATIO + HIGH_LOSS_RATIO * k**2)
    swing = np.cos(2.0 * np.pi * np.outer(pitch, time)) * np.exp(-np.outer(loss, time))
    shape = np.sin(np.pi * np.outer(along_mm / length_mm, k)) * triangle
    return np.asarray(-(shape @ swing).min(axis=1))


def touched(one: WorkshopInstrument) -> Touched:
    """Return every note that has a crown beyond its stop, and whether it touches at light, medium and heavy."""
    hand = playing(one.instrument.kind).strengths
    heights = np.array([hand.height_mm(name) for name in STRENGTHS])
    strings, stops, found = [], [], []
    for string in range(1, one.count + 1):
        points, first, wire = one.points(string), one.first[string - 1], one.strung[string - 1]
        line = np.array(points)
        for at in range(len(points) - 2):
            x, y = line[at:, 0] - line[at, 0], line[at:, 1]
            gap = (y[0] + (y[-1] - y[0]) * x / x[-1] - y)[1:-1]
            stiff = float(np.sqrt(wire.bending_n_mm2 / wire.pull_n)) / float(x[-1])
            deep = _depths(one, string, at, x, stiff, hand.pluck_from_saddle_mm)
            touches = np.any((deep[:, None] * heights > gap[:, None]) | (gap[:, None] <= 0.0), axis=0)
            strings.append(string)
            stops.append(first + at if at else 0)
            found.append(touches)
    return Touched(np.array(strings), np.array(stops), np.array(found))


_KNOWN: dict[tuple[str, int, int], Array] = {}


def _depths(one: WorkshopInstrument, string: int, at: int, x: Array, stiff: float, pluck_mm: float) -> Array:
    """Return the depths of one note; they hardly differ within a family, whose first instrument's are kept."""
    key = (one.instrument.kind, string, at)
    if key not in _KNOWN:
        _KNOWN[key] = depths(float(x[-1]), x[1:-1], pluck_mm, stiff)
    return _KNOWN[key]
