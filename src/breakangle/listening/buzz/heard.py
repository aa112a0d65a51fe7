"""Whether a string buzzes: high partials are added to period by period, and from some moment on no longer.

Two things must hold, neither of which a clean string does, whatever its decay, body and room: what each period adds is
large from the pluck on and falls off once the string swings too low to touch; and the level of high partials, which on
a string left alone falls ever more slowly (a sum of exponentials is convex in its logarithm), stays up and then drops.

What is small at the pluck and large a tenth of a second later is no buzz: a string touches most where it swings
furthest. Two polarisations do that, where they cancel each other a while after the pluck: little is left of a partial
then, and what goes on in it looks added.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.buzz.additions import ATTACK_S, FAINTEST, FIRST_TOLD, Additions, additions_of
from breakangle.listening.pitch.measure import Pitch

FloatArray = NDArray[np.float64]

# Where nothing else is said below: calibrated by `python -m bench listening_buzz`, on strings by finite differences.
SPAN_S = 0.06
FEWEST_TOLD = 12
EARLY_S = 0.27  # a buzz is worst at the pluck: what begins later is something else
# From the first span to the worst. Strings by finite differences that buzz: 6 at most; `listening_shop`'s clean ones
# whose polarisations cancel each other early: 13 at least.
MOST_RISE_DB = 10.0
LEAST_SHARE_DB, LEAST_DROP_DB = -18.0, 10.0
LEAST_BULGE_DB = 0.7
MOST_ABOVE_AFTER = 0.35  # of the spans after it: a voice comes and goes
STRONG_SHARE_DB, STRONG_BULGE_DB, FEWEST_SPANS = -9.0, 3.0, 2
BRIEF_SHARE_DB, BRIEF_DROP_DB, BRIEF_BULGE_DB, BRIEF_FRAMES, BRIEF_PARTIALS = -21.0, 8.0, 0.4, 6, 7
STOPPED = 0.35  # of the way from the late level up to the early one, in dB
BANDS = ((6.5, 12.5), (12.5, 20.5), (20.5, 32.5), (32.5, 56.5))  # in partials
PERIODS_PER_FRAME, SHORTEST_FRAME_S, SMOOTHED = 3, 0.02, 5
HIGHEST_HZ = 14_000.0
OVER_FLOOR_DB, FEWEST_FRAMES, FEWEST_BINS = 6.0, 8, 6
LOOKED_AT_S = 1.5
BEFORE_IT_STOPS, LOWEST_PLACED, LEAST_CLEAR = 0.9, 3, 0.3


@dataclass(frozen=True)
class Buzz:
    """A buzz as heard, or that there is none.

    Attributes:
        heard: whether the string buzzes.
        share_db: how much a period adds to the high partials at most, against what there is, in dB.
        bulge_db: how far the level of the high partials stands above any string's left alone.
        stops_s: when it stops, in seconds after the pluck; 0 where none is heard.
        order: numbers of the partials that were added to, where one is heard.
        gain_db: how much was added to each, against what it was at the pluck, in dB.
    """

    heard: bool
    share_db: float
    bulge_db: float
    stops_s: float
    order: tuple[int, ...] = ()
    gain_db: tuple[float, ...] = ()


def buzz_of(samples: FloatArray, rate_hz: float, pitch: Pitch) -> Buzz | None:
    """Whether a take buzzes; None where it cannot be told.

    Args:
        samples: mono, from the pluck on, shape (samples,).
        rate_hz: samples a second.
        pitch: what was measured in the take.
    """
    additions = additions_of(samples, rate_hz, pitch)
    if additions is None:
        return None
    time_s, level = _course(additions)
    if len(level) < FEWEST_SPANS:
        return None
    late = float(np.quantile(level[len(level) // 3 :], 0.25))
    early = float(level[time_s < EARLY_S].max(initial=-np.inf))
    bulge = bulge_db(samples, rate_hz, pitch.law.partial_one_hz)
    end = _end(level > late + STOPPED * (early - late))
    heard, short = _lasting(level, early, late, bulge, end), False
    if not heard:
        brief = _brief_db(additions)
        short = brief >= BRIEF_SHARE_DB and brief - late >= BRIEF_DROP_DB and bulge >= BRIEF_BULGE_DB
        early = max(early, brief) if short else early
    heard = heard or short
    stops = float(time_s[0 if short else end - 1]) + (0.0 if short else SPAN_S / 2) if heard else 0.0
    order, gain = _gains(additions, stops) if heard else ((), ())
    return Buzz(heard, early, bulge, stops, order, gain)


def _lasting(level: FloatArray, early: float, late: float, bulge: float, end: int) -> bool:
    """Whether a buzz lasts for a while: it is there from the pluck on, and stops and stays quiet, or is so strong that
    it need not be seen to stop."""
    if early - float(level[0]) > MOST_RISE_DB:
        return False
    if early >= STRONG_SHARE_DB and bulge >= STRONG_BULGE_DB:
        return True
    above = level > late + STOPPED * (early - late)
    quiet_after = end < len(above) and float(np.mean(above[end:])) <= MOST_ABOVE_AFTER
    return (
        early >= LEAST_SHARE_DB and early - late >= LEAST_DROP_DB and bulge >= LEAST_BULGE_DB and quiet_after
    )


def _brief_db(additions: Additions) -> float:
    """Share added in the first frames but one (that one holds the pluck itself), in dB: a buzz of a few blows."""
    share = additions.share_db
    usual = [
        float(np.median(share[row][additions.clear[row]]))
        if additions.clear[row].sum() >= BRIEF_PARTIALS
        else -np.inf
        for row in range(1, min(1 + BRIEF_FRAMES, len(share)))
    ]
    pairs = [0.5 * (one + other) for one, other in pairwise(usual)]
    return max(pairs, default=-np.inf)


def _end(above: NDArray[np.bool_]) -> int:
    """How many spans it lasts: to the last one before two that are quiet; all where it never stops."""
    for at in range(1, len(above) - 1):
        if above[:at].any() and not above[at] and not above[at + 1]:
            return at
    return len(above)


def _gains(additions: Additions, stops_s: float) -> tuple[tuple[int, ...], tuple[float, ...]]:
    """How much was added to each partial while it buzzed, in dB against its size at the pluck, which cancels how body
    and pickup colour it."""
    rows = additions.time_s < max(BEFORE_IT_STOPS * stops_s, additions.time_s[3])
    low = (additions.order >= LOWEST_PLACED) & (additions.order < FIRST_TOLD)
    chosen = low | (additions.clear[rows].mean(axis=0) > LEAST_CLEAR)
    added = 10 * np.log10(np.mean(np.abs(additions.added[rows][:, chosen]) ** 2, axis=0) + 1e-20)
    gain = added - 20 * np.log10(additions.first[chosen] + 1e-10)
    return tuple(additions.order[chosen].astype(int).tolist()), tuple(gain.tolist())


def _course(additions: Additions) -> tuple[FloatArray, FloatArray]:
    """Middles of short spans in seconds, and the usual share added in each, in dB; spans too poor are left out."""
    share = additions.share_db
    starts = np.arange(additions.time_s[0], additions.time_s[-1], SPAN_S)
    found = []
    for start in starts:
        rows = (additions.time_s >= start) & (additions.time_s < start + SPAN_S)
        told = share[rows][additions.clear[rows]]
        if len(told) >= FEWEST_TOLD:
            found.append((start + SPAN_S / 2, float(np.median(told))))
    table = np.array(found).reshape(-1, 2)
    return table[:, 0], table[:, 1]


def bulge_db(samples: FloatArray, rate_hz: float, hz: float) -> float:
    """How far two bands of high partials at once stand above the level of a string left alone, in dB."""
    sound = samples[round(ATTACK_S * rate_hz) : round(LOOKED_AT_S * rate_hz)]
    width = round(max(PERIODS_PER_FRAME / hz, SHORTEST_FRAME_S) * rate_hz)
    if len(sound) < FEWEST_FRAMES * width:
        return 0.0
    hop = max(1, width // 3)
    frames = np.lib.stride_tricks.sliding_window_view(sound, width)[::hop]
    power = np.abs(np.fft.rfft(frames * np.hanning(width), axis=1)) ** 2
    hertz = np.fft.rfftfreq(width, 1 / rate_hz)
    time_s = np.arange(len(frames)) * hop / rate_hz
    above = []
    for low, high in BANDS:
        inside = (hertz > low * hz) & (hertz < high * hz) & (hertz < min(HIGHEST_HZ, 0.45 * rate_hz))
        if inside.sum() >= FEWEST_BINS:
            above.append(_above_hull(time_s, power[:, inside].mean(axis=1), FAINTEST * float(power.max())))
    return float(np.sort(np.array(above), axis=0)[-2].max()) if len(above) > 1 else 0.0


def _above_hull(time_s: FloatArray, power: FloatArray, faintest: float) -> FloatArray:
    """How far a level stands above its own greatest convex minorant, in dB, as far as it is above the noise."""
    kernel = np.ones(SMOOTHED) / SMOOTHED
    level = 10 * np.log10(np.convolve(np.pad(power, SMOOTHED // 2, "edge"), kernel, "valid") + 1e-20)
    floor = 10 * np.log10(max(float(np.median(power[-max(5, len(power) // 6) :])), faintest) + 1e-20)
    quiet = np.flatnonzero(level < floor + OVER_FLOOR_DB)
    count = int(quiet[0]) if len(quiet) else len(level)
    above = np.zeros(len(level))
    if count >= FEWEST_FRAMES:
        above[:count] = level[:count] - _convex(time_s[:count], level[:count])
    return above


def _convex(x: FloatArray, y: FloatArray) -> FloatArray:
    """The greatest convex function that is nowhere above `y`, shape of `y`."""
    kept = [0]
    for i in range(1, len(x)):
        while len(kept) > 1 and (y[kept[-1]] - y[kept[-2]]) * (x[i] - x[kept[-2]]) >= (y[i] - y[kept[-2]]) * (
            x[kept[-1]] - x[kept[-2]]
        ):
            kept.pop()
        kept.append(i)
    return np.asarray(np.interp(x, x[kept], y[kept]))
