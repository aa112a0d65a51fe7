"""All frets of a string in one go: a finger slides up the neck, resting at each fret, and each rest has a pitch.

The pitch is followed every 15 ms; where it rests at one fret for long enough, that piece is measured as a take of its
own. Nothing is plucked anew at most frets, so little glide is left; what moves within a rest widens its uncertainty.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.coarse import period_of
from breakangle.listening.pitch.combine import CENTS
from breakangle.listening.pitch.measure import Pitch, measure
from breakangle.listening.pitch.partials import thinned

FloatArray = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench listening_together` tells what it costs.
HOP_S, PERIODS, LONGEST_FRAME_S = 0.015, 5.0, 0.16
TRACK_HZ = 2600.0
QUIETEST_RATIO = 1e-5  # of the loudest frame's power: below, nothing rings
LEAST_PERIODIC = 0.6
REST_SEMITONES, SHORTEST_REST_S = 0.3, 0.2
SKIP_S, END_S = 0.05, 0.03
PLUCKED_RISE = 3.0  # power over that of three frames ago: a string plucked anew
RISE_FRAMES, BEFORE = 3, 16
PLUCKED_SKIP_S = 0.12
# Of a glide that falls twice a second, over a third of one: its mean is three times what its halves differ by. Derived.
LEFT_OF_GLIDE, LEAST_LEFT_CENTS = 6.0, 1.0
MOST_MOVED_CENTS, MOST_SPREAD_CENTS = 1.5, 0.45


@dataclass(frozen=True)
class FretHeard:
    """One fret of a slide: when the finger rested there, its pitch, how much that moved, and how sure it is.

    `good` means that twice `uncertainty_cents` is within a cent.
    """

    fret: int
    start_s: float
    end_s: float
    pitch: Pitch
    moved_cents: float

    @property
    def hz(self) -> float:
        """Partial 1 in Hz."""
        return self.pitch.law.partial_one_hz

    @property
    def uncertainty_cents(self) -> float:
        """Standard uncertainty, with half of what the pitch moved while the finger rested."""
        return float(np.hypot(self.pitch.uncertainty_cents, 0.5 * self.moved_cents))

    @property
    def good(self) -> bool:
        """Whether it is right to within a cent."""
        return bool(self.uncertainty_cents <= MOST_SPREAD_CENTS and self.moved_cents <= MOST_MOVED_CENTS)


def frets_in(samples: FloatArray, rate_hz: float, open_hz: float, fret_count: int) -> tuple[FretHeard, ...]:
    """The frets that a slide rests at, lowest first, each once: where it rested longest.

    Args:
        samples: the whole slide, mono, shape (samples,).
        rate_hz: samples a second.
        open_hz: the open string, to a third of a semitone.
        fret_count: frets that there are.
    """
    low, low_hz = thinned(samples, rate_hz, TRACK_HZ)
    time_s, semitones, power = _track(low, low_hz, open_hz, fret_count)
    best: dict[int, FretHeard] = {}
    for first, last, fret in _rests(time_s, semitones, fret_count):
        plucked = _plucked_at(power[max(first - BEFORE, 0) : last + 1]) - min(first, BEFORE)
        found = _measured(samples, rate_hz, (time_s[first], time_s[last]), plucked, fret)
        if found is not None and (fret not in best or _length(found) > _length(best[fret])):
            best[fret] = found
    return tuple(best[fret] for fret in sorted(best))


def _length(one: FretHeard) -> float:
    return one.end_s - one.start_s


def _track(
    samples: FloatArray, rate_hz: float, open_hz: float, fret_count: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Middles of frames in s, semitones above the open string (NaN: nothing rings), and power; shape (frames,)."""
    frame, hop = round(min(PERIODS / open_hz, LONGEST_FRAME_S) * rate_hz), round(HOP_S * rate_hz)
    starts = np.arange(0, max(len(samples) - frame, 0), hop)
    semitones, power = np.full(len(starts), np.nan), np.zeros(len(starts))
    for at, start in enumerate(starts):
        piece = samples[start : start + frame]
        power[at] = float(np.mean(piece**2))
        period_s, periodic = period_of(piece, rate_hz)
        if period_s > 0 and periodic > LEAST_PERIODIC:
            semitones[at] = 12 * np.log2(1 / period_s / open_hz)
    quiet = power < QUIETEST_RATIO * power.max(initial=0.0)
    outside = (semitones < -1) | (semitones > fret_count + 1)
    semitones[quiet | outside] = np.nan
    return np.asarray((starts + frame / 2) / rate_hz, dtype=np.float64), semitones, power


def _rests(time_s: FloatArray, semitones: FloatArray, fret_count: int) -> Sequence[tuple[int, int, int]]:
    """First frame, last frame and fret of every stretch that stays at one fret for long enough."""
    known = np.isfinite(semitones)
    if not known.any():
        return ()
    # How far the string is off its note, as all frets share it: the middle of what is left to the nearest semitone.
    turn = np.angle(np.mean(np.exp(2j * np.pi * semitones[known]))) / (2 * np.pi)
    fret = np.where(known, np.round(np.nan_to_num(semitones) - turn), -1).astype(int)
    steady = known & (np.abs(semitones - turn - fret) < REST_SEMITONES) & (fret >= 0) & (fret <= fret_count)
    found, first = [], 0
    for at in range(1, len(fret) + 1):
        if at < len(fret) and steady[at] and steady[first] and fret[at] == fret[first]:
            continue
        if steady[first] and time_s[at - 1] - time_s[first] >= SHORTEST_REST_S:
            found.append((first, at - 1, int(fret[first])))
        first = at
    return found


def _plucked_at(power: FloatArray) -> float:
    """Frame at which the string was last plucked anew within these, minus infinity where it was not."""
    rises = np.flatnonzero(power[RISE_FRAMES:] > PLUCKED_RISE * power[:-RISE_FRAMES])
    return float(rises[-1] + RISE_FRAMES) if len(rises) else -np.inf


def _measured(
    samples: FloatArray, rate_hz: float, rest_s: tuple[float, float], plucked: float, fret: int
) -> FretHeard | None:
    """The pitch of one rest, whose `plucked` frame is the last new pluck; None where none can be had."""
    first_s, last_s = rest_s
    anew = bool(np.isfinite(plucked))
    start_s = first_s + SKIP_S
    if anew:
        start_s = max(start_s, first_s + plucked * HOP_S + PLUCKED_SKIP_S)
    end_s = last_s - END_S
    piece = samples[round(start_s * rate_hz) : round(end_s * rate_hz)]
    if end_s - start_s < SHORTEST_REST_S - SKIP_S:
        return None
    pitch = measure(piece, rate_hz, PLUCKED_SKIP_S, settle=anew)
    if pitch is None:
        return None
    half = len(piece) // 2
    parts = [measure(part, rate_hz, PLUCKED_SKIP_S, settle=False) for part in (piece[:half], piece[half:])]
    moved = 0.0
    if all(part is not None for part in parts) and not pitch.glide_cents:
        one, other = (part.law.partial_one_hz for part in parts if part is not None)
        moved = float(abs(CENTS * np.log(other / one)))
    if (
        anew and not pitch.glide_was_looked_for
    ):  # too short to follow: as much again, and more, may be left of it
        moved = max(LEFT_OF_GLIDE * moved, LEAST_LEFT_CENTS)
    return FretHeard(fret, start_s, end_s, pitch, moved)
