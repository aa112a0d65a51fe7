"""Checks for what rings beside the string: mains hum, other strings, a course, the other polarisation."""

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch import coarse
from breakangle.listening.pitch.hum import ON_HUM_HZ
from breakangle.listening.pitch.measure import Pitch
from breakangle.listening.pitch.partials import Bands, stiff_partials
from breakangle.listening.takes.evidence import Evidence
from breakangle.listening.takes.reasons import Reason, reason

FloatArray = NDArray[np.float64]

# Where nothing else is said below: calibrated by listening_honesty, on its spoiled takes.
LEADING_PARTIALS = 3
ODD_DIP = -1.4  # nepers, -12 dB
STEADY_PER_S = 0.08  # every plucked string dies away faster than this
COMBS = ((2, 3), (3, 4), (2, 5), (3, 5), (4, 5), (3, 7), (5, 6), (4, 7))
FAINT_HUM_HZ, FAINT_HUM_WIDTH_HZ = (50.0, 60.0, 100.0, 120.0, 150.0, 180.0), 1.5
NOTHING_BETWEEN = -3.45  # nepers, -30 dB
SPLIT_SPREADS = 2.4
# Two polarisations of one string are closer than this; whichever is taken below the second, little is lost.
ONE_STRING_CENTS, HARMLESS_CENTS = 2.6, 0.8


def mains_hum(evidence: Evidence) -> Reason | None:
    """Hum near the level of the string, or hum that sits on partial 1."""
    pitch = evidence.pitch
    mains = min(
        (50.0, 60.0), key=lambda f: abs(pitch.law.partial_one_hz / f - round(pitch.law.partial_one_hz / f))
    )
    off = pitch.law.partial_one_hz / mains - round(pitch.law.partial_one_hz / mains)
    decay = np.abs(pitch.solution.shape.decay)
    strongest = int(np.argmax(np.mean(np.abs(pitch.bands.values) ** 2, axis=1)))
    if abs(off) < 0.003 and min(float(np.median(decay)), float(decay[strongest])) < STEADY_PER_S:
        return reason("hum", True)
    if pitch.hum_hz <= 0:
        return None
    near = pitch.bands.carrier_hz[pitch.bands.order <= LEADING_PARTIALS]
    if np.any(np.abs(near - pitch.hum_hz * np.round(near / pitch.hum_hz)) < ON_HUM_HZ):
        return reason("hum", False)  # hum that lies on a partial pulls it, however faint it is elsewhere
    power = _power_at(evidence, pitch.hum_hz * np.arange(1.0, 9.0))
    string = float(np.sum(np.mean(np.abs(pitch.bands.values) ** 2, axis=1)))
    ratio = power / max(string, 1e-30)
    if ratio > 0.5:
        return reason("hum", True)
    return reason("hum", False) if ratio > 0.02 else None


def _power_at(evidence: Evidence, frequency_hz: FloatArray) -> float:
    """Summed squared amplitude of the peaks at fixed frequencies that are clear of the partials."""
    partials = evidence.pitch.bands.carrier_hz
    spectrum = evidence.spectrum
    clear = [f for f in frequency_hz if np.min(np.abs(partials - f)) > 2.0]
    peaks = np.exp([coarse.peak_near(spectrum, float(f), spectrum.hz_per_bin)[2] for f in clear])
    return float(np.sum((2 * peaks / spectrum.window_sum) ** 2))


def second_string(evidence: Evidence) -> Reason | None:
    """Strong peaks that belong to no partial of this string and to no mains hum."""
    pitch = evidence.pitch
    spectrum = evidence.spectrum
    law = pitch.law
    order = np.arange(1, 60, dtype=float)
    partials = stiff_partials(law.fundamental_hz, law.inharmonicity, order)
    top = min(int(3000 / spectrum.hz_per_bin), len(spectrum.log_magnitude) - 1)
    frequency = np.arange(top) * spectrum.hz_per_bin
    level = spectrum.log_magnitude[:top].copy()
    reach = np.minimum(np.maximum(0.01 * partials, 5.0), 0.3 * law.fundamental_hz)
    for centre, width in zip(partials, reach, strict=True):
        level[np.abs(frequency - centre) < width] = -np.inf
    if pitch.hum_hz > 0:
        for k in range(1, 17):
            level[np.abs(frequency - k * pitch.hum_hz) < 3.0] = -np.inf
    else:  # too little hum to be found by its many multiples is no string either
        for mains in FAINT_HUM_HZ:
            level[np.abs(frequency - mains) < FAINT_HUM_WIDTH_HZ] = -np.inf
    level[frequency < 22] = -np.inf
    level[1:-1][(level[1:-1] <= level[:-2]) | (level[1:-1] < level[2:])] = -np.inf
    strongest = float(spectrum.log_magnitude[:top].max())
    stray = float(level.max()) - strongest
    if stray > np.log(0.3) or two_combs(pitch.bands):  # a note that two strings share is neither's
        return reason("second-string", True)
    mixed = octave_pair(pitch.bands) or split_by_multiples(pitch)
    return reason("second-string", False) if mixed or stray > np.log(0.06) else None


def octave_pair(bands: Bands) -> bool:
    """Whether the odd partials are all so weak that a string an octave higher may be what rings, over a
    faint lower one.

    No place to pluck or to listen weakens all odd partials of a string; a second string an octave up
    strengthens all even ones.
    """
    level = dict(
        zip(bands.order.tolist(), np.log(np.mean(np.abs(bands.values) ** 2, axis=1)) / 2, strict=True)
    )
    dips = [
        level[n] - (level[n - 1] if n > 1 else level[n + 1]) / 2 - level[n + 1] / 2
        for n in (1, 3, 5, 7)
        if n in level and n + 1 in level and (n == 1 or n - 1 in level)
    ]
    evens = sum(n % 2 == 0 for n in level)
    missing = evens - sum(n % 2 == 1 for n in level)
    return (len(dips) >= 2 and float(np.median(dips)) < ODD_DIP) or missing >= 3


def two_combs(bands: Bands) -> bool:
    """Whether what rings are only multiples of two numbers, such as 3 and 4: two strings a fourth apart, with no
    string at the note they seem to share."""
    level = np.full(int(bands.order.max()), -np.inf)
    level[bands.order - 1] = np.log(np.mean(np.abs(bands.values) ** 2, axis=1)) / 2
    n = np.arange(1, len(level) + 1)
    for first, second in COMBS:
        between = (n % first != 0) & (n % second != 0)
        if second <= len(n) and float(level[between].max()) < float(level.max()) + NOTHING_BETWEEN:
            return True
    return False


def split_by_multiples(pitch: Pitch) -> bool:
    """Whether all multiples of 2, 3 or 4 behave unlike the other partials, as a second string there would have
    it: in what the lines leave over, in the two lines' ratio, or in how far they lie off the law."""
    order = pitch.bands.order
    size = np.abs(pitch.solution.lines)
    left = np.mean(np.abs(pitch.solution.residual) ** 2, axis=1) - pitch.bands.noise**2
    left = np.maximum(left / np.mean(np.abs(pitch.bands.values) ** 2, axis=1), 1e-6)
    if size.shape[1] == 1:
        marks = (np.log(left), np.log(5.0), np.log(2e-3))
    else:
        ratio = np.minimum(np.maximum(size[:, 1] / np.maximum(size[:, 0], 1e-30), 0.02), 50)
        marks = (np.log(ratio), 1.2, -np.inf)
    off = np.log(np.abs(pitch.law.residual_cents) + 0.005)
    return any(
        _apart(order % times == 0, value, gap, least)
        for times in (2, 3, 4)
        for value, gap, least in (marks, (off, np.log(5.0), np.log(0.3)))
    )


def _apart(chosen: NDArray[np.bool_], value: FloatArray, gap: float, least: float) -> bool:
    """Whether chosen and other values differ: their medians by `gap`, the higher one above `least`, and nearly
    all of the one above nearly all of the other.

    Source: Mann and Whitney (1947), "On a test of whether one of two random variables is stochastically larger
        than the other", Ann. Math. Stat. 18, 50: mean and variance of their count.
    """
    one, other = value[chosen], value[~chosen]
    count, rest = len(one), len(other)
    if count < 2 or rest < 3:
        return False
    middles = sorted((float(np.median(one)), float(np.median(other))))
    if middles[1] - middles[0] < gap or middles[1] < least:
        return False
    above = float(np.sum(one[:, None] > other) + 0.5 * np.sum(one[:, None] == other))
    spread = np.sqrt(count * rest * (count + rest + 1) / 12)
    return bool(abs(above - count * rest / 2) > SPLIT_SPREADS * spread)


def beating(evidence: Evidence) -> Reason | None:
    """Partials that swell and fall: what the lines leave over is not small, or two lines are too far apart for
    one string, too alike to say which is the string's own, or differ from partial to partial."""
    pitch = evidence.pitch
    power = np.mean(np.abs(pitch.bands.values) ** 2, axis=1)
    lines = pitch.lines
    if lines.apart_cents > ONE_STRING_CENTS:
        return reason("beating", False)
    if lines.apart_cents > HARMLESS_CENTS and lines.spread_nepers > 1.1:
        return reason("beating", False)
    left_over = np.maximum(np.mean(np.abs(pitch.solution.residual) ** 2, axis=1) - pitch.bands.noise**2, 0)
    ratio = float(np.sum(left_over) / np.sum(power))
    # Low partials beat too slowly to be seen; where most others do, they are pulled all the same.
    usual = float(np.median((left_over / power)[power > 1e-3 * power.max()]))
    if ratio > 0.3:
        return reason("beating", True)
    return reason("beating", False) if ratio > 0.035 or usual > 0.08 else None
