"""How far a string was pulled at the pluck, from how much its pitch falls afterwards.

Stretched by the pluck, a string is tighter while it swings wide: at the pluck its pitch is higher by

    df/f = EA h² / (8 T L² p (1 − p)),

h being the whole displacement at the share p of the length L, in whatever direction, EA/T how stiff the string is
against its tension. Source: Legge and Fletcher (1984), J. Acoust. Soc. Am. 76, 5 (mean tension of a swing; the triangle
of a pluck is worked out here: its length grows by h²/(2 L p (1 − p)), half of which is left on average over a swing).
As the partials die, each at its own pace, pitch falls by their share in the string's stretch, sin²(n π p)/n².
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.combine import CENTS
from breakangle.listening.pitch.measure import WEAKEST_RATIO, Pitch
from breakangle.listening.stroke.pluck_point import PluckPoint, known_point, pluck_point

FloatArray = NDArray[np.float64]

# Where nothing else is said below: calibrated by `python -m bench listening_strokes`, on strings by finite differences.
STRETCH_PARTIALS = 60
USUAL_POINT_SPREAD = 0.45  # of the logarithm: from under half the usual place to over twice it
FEWEST_PARTIALS = 4
PARTS = 12
FINEST_CENTS = 0.03  # of a part of the track: no string's pitch is smoother
LAW_DOUBT_RATIO = (
    0.06  # of the fall at the pluck: decay times and the shape of the plectrum are not quite as taken
)
SURE_SPREADS = 1.96


@dataclass(frozen=True)
class StringFacts:
    """What height needs to know of the sounding string.

    Attributes:
        length_mm: from the stop to the saddle.
        axial_ratio: EA/T, pure number.
        axial_spread_ratio: standard deviation of its logarithm.
        usual_point: where it is usually plucked, as a share of the length from the saddle.
    """

    length_mm: float
    axial_ratio: float
    axial_spread_ratio: float
    usual_point: float


@dataclass(frozen=True)
class Stroke:
    """How a string was plucked.

    Attributes:
        height_mm: whole displacement at the pluck, in whatever direction: only a part of it is toward the board.
        low_mm: lower end of its 95 % interval; 0 where no fall of pitch is sure.
        high_mm: upper end.
        point: where it was plucked.
        length_mm: of the sounding string.
        fall_cents: how much higher than settled it began, at the pluck itself.
        fall_spread_cents: standard uncertainty of that.
    """

    height_mm: float
    low_mm: float
    high_mm: float
    point: PluckPoint
    length_mm: float
    fall_cents: float
    fall_spread_cents: float

    @property
    def sure(self) -> bool:
        """Whether a displacement was heard at all, and not only that it was no larger than `high_mm`."""
        return self.low_mm > 0.0


def stroke_of(pitch: Pitch, string: StringFacts, point_mm: float | None = None) -> Stroke | None:
    """How a string was plucked; None where the take is too short or too poor in partials to tell.

    Args:
        pitch: what was measured in the take.
        string: the sounding string.
        point_mm: where it was plucked, from the saddle, where that is known; None hears it.
    """
    if len(pitch.bands.order) < FEWEST_PARTIALS or not pitch.glide_was_looked_for:
        return None
    point = (
        pluck_point(*_partials(pitch), string.usual_point, USUAL_POINT_SPREAD)
        if point_mm is None
        else known_point(point_mm / string.length_mm, 3.0 / string.length_mm)
    )
    fall, spread = _fall(pitch, point.middle)
    spread = float(np.hypot(spread, LAW_DOUBT_RATIO * abs(fall)))
    reach, reach_spread = point.of(np.sqrt(8.0 * point.share * (1.0 - point.share)))
    other = float(np.hypot(reach_spread / reach, 0.5 * string.axial_spread_ratio))

    def height(cents: float) -> float:
        return string.length_mm * reach * float(np.sqrt(max(cents, 0.0) / CENTS / string.axial_ratio))

    middle = height(fall)
    below = np.hypot(middle - height(fall - SURE_SPREADS * spread), SURE_SPREADS * other * middle)
    high = height(max(fall, 0.0) + SURE_SPREADS * spread)
    above = np.hypot(high - middle, SURE_SPREADS * other * high)
    low = max(middle - float(below), 0.0) if fall > SURE_SPREADS * spread else 0.0
    return Stroke(middle, low, middle + float(above), point, string.length_mm, fall, spread)


def _partials(pitch: Pitch) -> tuple[FloatArray, FloatArray]:
    """Numbers and sizes at the pluck of partials 1 to the highest heard; what was too weak to hear is as weak as that.

    A partial that is missing below others tells most of where the pluck was.
    """
    size = np.sqrt(np.sum(np.abs(pitch.solution.lines) ** 2, axis=1))
    order = np.arange(1.0, pitch.bands.order.max() + 1.0)
    amplitude = np.full(len(order), WEAKEST_RATIO * size.max())
    amplitude[pitch.bands.order - 1] = size
    return order, amplitude


def _fall(pitch: Pitch, point: float) -> tuple[float, float]:
    """How much higher pitch was at the pluck than settled, and its standard error, in cents."""
    time_s, cents, weight = pitch.track()
    n = np.arange(1.0, STRETCH_PARTIALS + 1.0)
    share = np.sin(np.pi * n * point) ** 2 / n**2
    law = (share / share.sum()) @ np.exp(-2.0 * _decays(pitch, n)[:, None] * time_s)
    parts = np.array_split(np.arange(len(time_s)), min(PARTS, max(len(time_s) // 2, 3)))
    y = np.array([np.average(cents[part], weights=weight[part]) for part in parts])
    g = np.array([np.average(law[part], weights=weight[part]) for part in parts])
    root = np.sqrt(np.array([weight[part].sum() for part in parts]))
    root = root / root.max()
    design = np.stack([np.ones_like(g), g], axis=1) * root[:, None]
    normal = np.linalg.inv(design.T @ design + 1e-12 * np.eye(2))
    answer = normal @ design.T @ (root * y)
    left = root * y - design @ answer
    variance = max(float(left @ left) / max(len(y) - 2, 1), FINEST_CENTS**2)
    return float(answer[1]), float(np.sqrt(variance * normal[1, 1]))


def _decays(pitch: Pitch, order: FloatArray) -> FloatArray:
    """Decay per second of every partial: as measured, and along a law α + β n² where it was not; shape of `order`."""
    lines = np.abs(pitch.solution.lines) ** 2
    decay = np.clip(pitch.solution.shape.decay, 0.05, 40.0)
    if lines.shape[1] > 1:
        second = np.clip(pitch.solution.shape.second_decay, 0.05, 40.0)
        decay = (lines[:, 0] * decay + lines[:, 1] * second) / (lines[:, 0] + lines[:, 1])
    n = pitch.bands.order.astype(float)
    design = np.stack([np.ones_like(n), n**2], axis=1)
    weight = 1.0 / decay
    answer = np.linalg.lstsq(design * weight[:, None], decay * weight, rcond=None)[0]
    slope = max(float(answer[1]), 0.0)
    base = max(float(np.average(decay - slope * n**2, weights=weight)), 0.1)
    found = base + slope * order**2
    for number, value in zip(pitch.bands.order, decay, strict=True):
        if number <= len(found):
            found[number - 1] = value
    return found
