"""What each period adds to a string's partials that the one before does not explain.

A string left alone goes on by itself: a period later every partial is what it was, turned and faded by always the same
amount. What is left when that is taken away is what was added in between: nothing on a clean string, a burst of high
partials once a period where it strikes a crown. Source: derived; the same idea on pulses between two pick-ups:
Evangelista (2011), "Physical model of the string-fret interaction", Proc. DAFx-11 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.glide import lag
from breakangle.listening.pitch.measure import Pitch
from breakangle.listening.pitch.partials import stiff_partials

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

# Where nothing else is said below: calibrated by `python -m bench listening_buzz`, on strings by finite differences.
ATTACK_S = 0.006  # of the pluck itself: no string yet
LONGEST_S = 1.3
PERIODS_PER_FRAME = 4
SHORTEST_FRAME_S = 0.012
MOST_PARTIALS, HIGHEST_HZ = 44, 12_000.0
MOST_FRAMES = 170
FIRST_TOLD = 5  # lower partials carry little of a burst and are never still: body, hand
OVER_NOISE = 30.0
FAINTEST = 1e-9  # of the strongest partial at the pluck, in power: below is what the frames themselves leave
LATE = 0.75  # of what is looked at: later frames tell the noise


@dataclass(frozen=True)
class Additions:
    """Partials frame by frame, a whole number of periods apart, and what was added to each.

    Attributes:
        order: numbers of the partials, shape (partials,).
        time_s: middle of each frame after the pluck, shape (frames,).
        before: complex size of each partial one frame before, glide and turning taken out, shape (frames, partials).
        added: what was added since, shape (frames, partials).
        first: size of each partial in the very first frame, shape (partials,).
        clear: which are well above the noise, shape (frames, partials).
    """

    order: FloatArray
    time_s: FloatArray
    before: ComplexArray
    added: ComplexArray
    first: FloatArray
    clear: NDArray[np.bool_]

    @property
    def share_db(self) -> FloatArray:
        """How much was added to each partial against what there was, in dB, shape (frames, partials)."""
        power = np.abs(self.before) ** 2
        return np.asarray(10 * np.log10(np.abs(self.added) ** 2 / np.maximum(power, 1e-30) + 1e-12))


def additions_of(samples: FloatArray, rate_hz: float, pitch: Pitch) -> Additions | None:
    """What each period added in a take; None where it is too short or has too few partials to tell.

    Args:
        samples: mono, from the pluck on, shape (samples,).
        rate_hz: samples a second.
        pitch: what was measured in the take.
    """
    order, hertz = _partials(pitch, rate_hz)
    period_s = 1.0 / pitch.law.partial_one_hz
    frame_s = max(PERIODS_PER_FRAME * period_s, SHORTEST_FRAME_S)
    length_s = min(len(samples) / rate_hz, LONGEST_S)
    start_s, end_s = ATTACK_S + frame_s / 2, length_s - frame_s / 2
    step = max(1, int(np.ceil((end_s - start_s) / period_s / MOST_FRAMES)))
    middles = np.arange(start_s, end_s, step * period_s)
    if len(order) < 2 * FIRST_TOLD or len(middles) < 12:
        return None
    time_s, values = _sizes(samples, rate_hz, hertz, middles, frame_s)
    shape = pitch.solution.shape
    warped = time_s + shape.glide * lag(time_s, shape.glide_rate)
    values = values * np.exp(-2j * np.pi * np.outer(warped, hertz))
    before, after = values[:-1], values[1:]
    goes_on = np.sum(after * before.conj(), axis=0) / np.maximum(np.sum(np.abs(before) ** 2, axis=0), 1e-30)
    added, time_s = after - goes_on * before, time_s[1:]
    late = time_s > LATE * time_s[-1]
    noise = np.median(np.abs(added[late]) ** 2, axis=0)
    least = np.maximum(OVER_NOISE * noise, FAINTEST * float(np.max(np.abs(values[0]) ** 2)))
    clear = (np.abs(after) ** 2 > least) & (order >= FIRST_TOLD)
    return Additions(order, time_s, before, added, np.abs(values[0]), clear)


def _partials(pitch: Pitch, rate_hz: float) -> tuple[FloatArray, FloatArray]:
    order = np.arange(1.0, MOST_PARTIALS + 1.0)
    hertz = stiff_partials(pitch.law.fundamental_hz, pitch.law.inharmonicity, order)
    heard = hertz < min(HIGHEST_HZ, 0.45 * rate_hz)
    return order[heard], hertz[heard]


def _sizes(
    samples: FloatArray, rate_hz: float, hertz: FloatArray, middles: FloatArray, frame_s: float
) -> tuple[FloatArray, ComplexArray]:
    """Middles of the frames as they fall on samples, and complex sizes, shape (frames, partials)."""
    width = round(frame_s * rate_hz)
    first = np.round(middles * rate_hz - width / 2).astype(int)
    first = first[(first >= 0) & (first + width <= len(samples))]
    window = np.hanning(width + 2)[1:-1]
    offset = (np.arange(width) - (width - 1) / 2) / rate_hz
    angle = 2 * np.pi * np.outer(offset, hertz)
    weight = (window / window.sum())[:, None]
    frames = np.lib.stride_tricks.sliding_window_view(samples, width)[first]
    values = frames @ (weight * np.cos(angle)) - 1j * (frames @ (weight * np.sin(angle)))
    return np.asarray((first + (width - 1) / 2) / rate_hz), np.asarray(values)
