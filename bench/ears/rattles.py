"""Buzzing strings by finite differences: stopped strings over crowns, one of them proud, and clean ones."""

import numpy as np

from bench.ears.difference_string import Strings

FRETS = 22


def over_crowns(
    rng: np.random.Generator, count: int, low_hz: float, high_hz: float, proud: bool
) -> tuple[Strings, np.ndarray, np.ndarray]:
    """Strings stopped at frets 0 to 10, with the frets that stop them and the crown made proud, shape (count,) each.

    A neck with relief under a line from stop to saddle; crowns scatter by 0.01 mm. Where `proud`, one crown within ten
    of the stop stands so far up that the string's swing reaches 0.08 to 0.5 of its height below it; where not, the
    string swings clear by four tenths of its height at least.
    """
    stop = rng.integers(0, 11, count)
    open_mm = 648.0
    length = open_mm * 2.0 ** (-stop / 12)
    hz = np.exp(rng.uniform(np.log(low_hz), np.log(high_hz), count))
    height = rng.uniform(1.0, 3.0, count)
    toward = rng.uniform(0.12, 0.5, count)
    point = np.clip(rng.uniform(60, 150, count) / length, 0.08, 0.4)
    number = np.arange(1, FRETS + 1)
    crown = 1.0 - 2.0 ** (-(number[None, :] - stop[:, None]) / 12)
    beyond = number[None, :] > stop[:, None]
    up = height * np.sin(toward)
    reach = up[:, None] * _envelope(np.where(beyond, crown, 0.5), point[:, None])
    least = 0.15 if proud else 0.4
    slack = up[:, None] * rng.uniform(least, least + 0.5, (count, 1)) + rng.normal(0, 0.01, (count, FRETS))
    gap = np.where(beyond, reach + np.maximum(slack, 0.05), np.inf)
    ahead = rng.integers(1, 11, count)
    culprit = np.minimum(stop + ahead, FRETS)
    if proud:
        rows = np.arange(count)
        depth = rng.uniform(0.08, 0.5, count) * up
        gap[rows, culprit - 1] = np.maximum(reach[rows, culprit - 1] - depth, 0.01)
    strings = Strings(
        hz=hz,
        length_mm=length,
        axial_ratio=rng.uniform(90, 320, count),
        stiffness=np.exp(rng.uniform(np.log(2e-5), np.log(2e-4), count)),
        height_mm=height,
        toward=toward,
        # The saddle is at 1 here; a share counted from the stop.
        pluck_ratio=1 - point,
        decay_per_s=rng.uniform(0.4, 1.3, count),
        decay_growth=np.exp(rng.uniform(np.log(0.005), np.log(0.06), count)),
        apart_ratio=rng.uniform(-3e-4, 3e-4, count),
        crown_ratio=np.where(beyond, crown, 0.5),
        gap_mm=gap,
    )
    return strings, stop, culprit


def _envelope(x: np.ndarray, point: np.ndarray) -> np.ndarray:
    """How low a plucked string swings, over the height of its pluck: the pluck's triangle mirrored about the middle."""
    return np.asarray(np.clip(np.where(x < 1 - point, x / (1 - point), (1 - x) / point), 0.0, 1.0))
