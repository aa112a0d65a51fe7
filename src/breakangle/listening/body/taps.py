"""Taps on a body: where each begins, and the resonances that all of them share.

A tapped body rings in a few notes that die away within a tenth of a second, too soon for a spectrum to part them. So
all taps are fitted by damped lines that they have in common, each tap with its own sizes.

Source: the shared lines: R. Roy and T. Kailath (1989), ESPRIT: estimation of signal parameters via rotational
invariance techniques, IEEE Trans. ASSP 37, 984, on Hankel rows of all taps side by side (from memory); what a tap
tells of a body: N. H. Fletcher and T. D. Rossing (1998), The Physics of Musical Instruments, 2nd ed., chapter 9 (from
memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.capture.onsets import OnsetFinder
from breakangle.listening.pitch.partials import thinned

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

# Where nothing else is said below: chosen; no source; `python -m bench listening_body` tells what it costs.
LOWEST_HZ, HIGHEST_HZ = 55.0, 700.0
SKIP_S, TAP_S, SHORTEST_S = 0.006, 0.45, 0.12
MOST_LINES, ROW_RATIO = 24, 0.33
FEWEST_TAPS = 3
LEAST_QUALITY, MOST_QUALITY = 3.0, 120.0
FAINTEST_DB = -22.0  # below the strongest: not told
SAME_RATIO = 0.04  # lines of two sets of taps that are this near are one resonance
LEAST_SINGULAR = 0.004
MOST_STEPS, ENOUGH = 12, 1e-6
MOST_SPREAD_RATIO = 0.3  # of Q: less sure than that, it is no resonance but noise


@dataclass(frozen=True)
class TapResonance:
    """One note of the body: Hz and Q, each with its standard uncertainty, and its level below the strongest in dB."""

    hz: float
    spread_hz: float
    quality_ratio: float
    spread_ratio: float
    level_db: float


@dataclass(frozen=True)
class Taps:
    """The ringing after each tap, from the end of the blow on, shape (samples,) each, and its samples a second."""

    rows: tuple[FloatArray, ...]
    rate_hz: float


def taps_in(samples: FloatArray, rate_hz: float) -> Taps:
    """The taps of a recording (mono, shape (samples,)): thinned out whole, so that no filter is cut by a tap's edge."""
    finder = OnsetFinder(rate_hz, room_first=False)
    starts = [edge.sample for edge in finder.push(samples) if edge.begins]
    ends = [*starts[1:], len(samples)]
    low, low_hz = thinned(samples, rate_hz, HIGHEST_HZ)
    rows = []
    for start, end in zip(starts, ends, strict=True):
        first = round((start / rate_hz + SKIP_S) * low_hz)
        last = min(round((end / rate_hz - 2 * SKIP_S) * low_hz), first + round(TAP_S * low_hz))
        if last - first >= SHORTEST_S * low_hz:
            rows.append(low[first:last])
    return Taps(tuple(rows), low_hz)


def resonances_of(taps: Taps) -> tuple[TapResonance, ...]:
    """The notes of the body, lowest first; none where fewer than three taps were heard.

    The uncertainty is the jackknife's: how much the answer moves as each tap in turn is left out (B. Efron and C. Stein
    (1981), The jackknife estimate of variance, Ann. Stat. 9, 586, from memory).
    """
    if len(taps.rows) < FEWEST_TAPS:
        return ()
    low_hz, count = taps.rate_hz, min(len(tap) for tap in taps.rows)
    rows = [tap[:count] for tap in taps.rows]
    every = _fitted(_lines(rows, low_hz), rows, low_hz)
    others = [_fitted(every, rows[:at] + rows[at + 1 :], low_hz) for at in range(len(rows))]
    return tuple(told for line in every if (told := _told(line, others)) is not None)


def _told(line: TapResonance, others: Sequence[Sequence[TapResonance]]) -> TapResonance | None:
    """The line with its uncertainty; None where it is not found again as taps are left out."""
    again = [min(lines, key=lambda one: abs(np.log(one.hz / line.hz)), default=None) for lines in others]
    near = [one for one in again if one is not None and abs(np.log(one.hz / line.hz)) < SAME_RATIO]
    if len(near) < len(others):
        return None
    scale = float(np.sqrt(len(near) - 1.0))
    spread_hz = float(scale * np.std([one.hz for one in near]))
    ratio = float(scale * np.std(np.log([one.quality_ratio for one in near])))
    if ratio > MOST_SPREAD_RATIO:
        return None
    return TapResonance(line.hz, max(spread_hz, 0.1), line.quality_ratio, max(ratio, 0.01), line.level_db)


def _lines(taps: Sequence[FloatArray], rate_hz: float) -> list[TapResonance]:
    """Damped lines that the taps share, lowest first, their uncertainty not yet known."""
    poles = _poles(taps)
    rate = rate_hz * np.log(poles)
    hz, fall = rate.imag / (2 * np.pi), -rate.real
    alive = (hz > LOWEST_HZ) & (hz < HIGHEST_HZ) & (fall > 0)
    hz, fall = hz[alive], fall[alive]
    quality = np.pi * hz / fall
    if not len(hz):
        return []
    energy = _energies(taps, hz, fall, rate_hz)
    level = 10 * np.log10(np.maximum(energy, 1e-30) / energy.max())
    keep = (level > FAINTEST_DB) & (quality > LEAST_QUALITY) & (quality < MOST_QUALITY)
    order = np.argsort(hz)
    return [
        TapResonance(float(hz[at]), 0.0, float(quality[at]), 0.0, float(level[at]))
        for at in order
        if keep[at]
    ]


def _fitted(lines: Sequence[TapResonance], taps: Sequence[FloatArray], rate_hz: float) -> list[TapResonance]:
    """The lines fitted to all taps at once, each tap with its own sizes (variable projection, as in `pitch.joint`)."""
    t = np.arange(len(taps[0])) / rate_hz
    sound = np.stack([tap / np.linalg.norm(tap) for tap in taps], axis=1)
    rate = np.array([-np.pi * one.hz / one.quality_ratio + 2j * np.pi * one.hz for one in lines])
    best, cost, damping = rate, np.inf, 1e-3
    for _ in range(MOST_STEPS):
        trial, normal, pull = _normal(rate, t, sound)
        gained = trial < cost * (1 - ENOUGH)
        if trial < cost:
            best, cost = rate, trial
        if not gained:
            break
        every = np.arange(len(normal))
        normal[every, every] *= 1 + damping
        step = np.linalg.solve(normal, pull)
        count = len(rate)
        rate = rate + np.clip(step[:count], -20, 20) + 1j * np.clip(step[count:], -20, 20)
        rate.real = np.minimum(rate.real, -1.0)
    return [
        TapResonance(float(one.imag / (2 * np.pi)), 0.0, float(-one.imag / 2 / one.real), 0.0, line.level_db)
        for one, line in zip(best, lines, strict=True)
    ]


def _normal(rate: ComplexArray, t: FloatArray, sound: FloatArray) -> tuple[float, FloatArray, FloatArray]:
    """Squares left over, and normal equations of falls and angular frequencies, sizes projected out."""
    rows = np.exp(np.outer(t, rate))
    base, _ = np.linalg.qr(np.concatenate([rows.real, rows.imag], axis=1))
    basis = np.concatenate([rows.real, rows.imag], axis=1)
    sizes = np.linalg.lstsq(basis, sound, rcond=None)[0]
    left = sound - basis @ sizes
    count = len(rate)
    cosine, sine = sizes[:count], sizes[count:]
    turned = t[:, None] * rows
    falls = turned.real[:, :, None] * cosine + turned.imag[:, :, None] * sine
    turns = -turned.imag[:, :, None] * cosine + turned.real[:, :, None] * sine
    slopes = np.concatenate([falls, turns], axis=1)
    slopes = slopes - np.einsum("tk,knl->tnl", base, np.einsum("tk,tnl->knl", base, slopes))
    normal = np.einsum("tnl,tml->nm", slopes, slopes)
    return float(np.sum(left**2)), normal, np.einsum("tnl,tl->n", slopes, left)


def _poles(taps: Sequence[FloatArray]) -> ComplexArray:
    """Poles shared by all taps, by the shift of the space that their Hankel rows span."""
    height = int(ROW_RATIO * len(taps[0]))
    hankel = np.concatenate(
        [np.lib.stride_tricks.sliding_window_view(tap / np.linalg.norm(tap), height).T for tap in taps],
        axis=1,
    )
    vectors, sizes, _ = np.linalg.svd(hankel @ hankel.T, hermitian=True)
    sizes = np.sqrt(sizes / sizes[0])
    count = int(np.clip(np.sum(sizes > LEAST_SINGULAR), 2, MOST_LINES))
    space = vectors[:, :count]
    shift = np.linalg.lstsq(space[:-1], space[1:], rcond=None)[0]
    poles = np.linalg.eigvals(shift)
    return np.asarray(poles[(poles.imag > 0) & (np.abs(poles) < 1)], dtype=np.complex128)


def _energies(taps: Sequence[FloatArray], hz: FloatArray, fall: FloatArray, rate_hz: float) -> FloatArray:
    """Energy of each line over all taps, as they are fitted together; shape of `hz`."""
    t = np.arange(len(taps[0])) / rate_hz
    rows = np.exp(np.outer(t, -fall + 2j * np.pi * hz))
    basis = np.concatenate([rows.real, rows.imag], axis=1)
    sizes = np.linalg.lstsq(basis, np.stack([tap / np.linalg.norm(tap) for tap in taps], axis=1), rcond=None)[
        0
    ]
    power = np.sum(sizes[: len(hz)] ** 2 + sizes[len(hz) :] ** 2, axis=1)
    return np.asarray(power / fall)
