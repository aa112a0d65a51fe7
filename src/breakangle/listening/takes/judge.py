"""One take, judged: the window used, its pitch, and every reason to doubt or refuse it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.buzz.heard import Buzz, buzz_of
from breakangle.listening.pitch import coarse, glide
from breakangle.listening.pitch.combine import CENTS
from breakangle.listening.pitch.measure import START_S, Pitch, measure
from breakangle.listening.pitch.partials import thinned
from breakangle.listening.takes.evidence import LEVEL_HOP_S, Evidence, levels
from breakangle.listening.takes.other_sounds import beating, mains_hum, second_string
from breakangle.listening.takes.reasons import Reason, Verdict, reason, verdict_of
from breakangle.listening.takes.wander import wandered

FloatArray = NDArray[np.float64]

# Where nothing else is said below: calibrated by listening_honesty, on its spoiled takes.
LONGEST_S = 3.0
SHORTEST_S = 0.2
DOUBT_BELOW_S = 0.4
RECORD_S = 0.85
TAIL_RATIO = 4e-4
SPECTRUM_S, SPECTRUM_HZ = 1.5, 3200.0
MOST_CLIMB_CENTS, MOST_WANDER_CENTS = 0.8, 1.4
# Pitch settles as the string's energy falls: a glide that is seen goes about as fast.
GLIDE_SEEN_CENTS, MOST_GLIDE_CENTS, SLOWEST_GLIDE_RATIO, FASTEST_GLIDE_RATIO = 2.0, 12.0, 0.33, 4.5
SETTLED_GLIDE_RATIO, SETTLED_CENTS = 0.25, 0.15
FAINT_RATIO, FAINT_CENTS = 3e-3, 0.5
FLAT_RATE_HZ = 48_000.0
LEAST_LOOKED_AT = 0.2
FALLEN_RATIO, FEWEST_BEFORE = 0.05, 4  # 13 dB in a tenth of a second, and no sooner than after a fifth
FEWEST_STEPS = 64.0  # 36 dB above the last bit: below, a note is as much stairs as string
# Power of all that sounds over the string's own, from some moment to the end; no window is cut shorter than this.
# Calibrated by listening_shop, on its voices and noisy rooms.
DROWNED_RATIO, LEAST_CLEAR_S = 1.25, 1.0
GOOD_SPREAD_CENTS, SHORT_SPREAD_CENTS = 0.45, 0.4


@dataclass(frozen=True)
class Judged:
    """A take's pitch with its verdict.

    Attributes:
        pitch: what was measured; None when there is nothing to measure or the take is refused for being no
            string.
        reasons: everything wrong with it.
        window_s: piece used, in seconds after the pluck.
        buzz: whether the string strikes something as it swings; None where that cannot be told.
    """

    pitch: Pitch | None
    reasons: tuple[Reason, ...]
    window_s: tuple[float, float]
    buzz: Buzz | None = None

    @property
    def verdict(self) -> Verdict:
        """Good, doubtful or refused."""
        return verdict_of(self.reasons)


def usable(samples: FloatArray, rate_hz: float) -> FloatArray:
    """The window of a take: from 0.12 s after the pluck, at most 3 s, until the sound is 34 dB down."""
    window = samples[round(START_S * rate_hz) : round((START_S + LONGEST_S) * rate_hz)]
    level = levels(window, rate_hz)
    if len(level) < 4:
        return window
    gone = np.flatnonzero(level < TAIL_RATIO * level[:4].max())
    count = int(gone[0]) if len(gone) else len(level)
    # What follows where the sound is gone tells too whether a hand stopped it.
    count = min(count, _fallen(level) or count)
    return window[: int(count * round(LEVEL_HOP_S * rate_hz))] if count < len(level) else window


def _fallen(level: FloatArray) -> int | None:
    """The piece before which a hand has stopped the string for good, in a room that hides how silent it is then; None:
    nobody did."""
    for at in range(FEWEST_BEFORE, len(level) - 2):
        if (
            level[at + 1] < FALLEN_RATIO * level[at - 1]
            and level[at + 1 :].max() < 2 * FALLEN_RATIO * level[at - 1]
        ):
            return at
    return None


def judge(samples: FloatArray, rate_hz: float) -> Judged:
    """The take whose pluck is the first sample, measured and judged.

    Args:
        samples: mono, full scale 1, from the pluck to the end of the take, shape (samples,).
        rate_hz: samples a second.
    """
    window = usable(samples, rate_hz)
    length_s = len(window) / rate_hz
    span = (START_S, START_S + length_s)
    if length_s < SHORTEST_S:
        return Judged(None, (reason("too-short", True),), span)
    pitch = measure(window, rate_hz, START_S)
    if pitch is not None:
        clear = _clear_count(window, rate_hz, pitch)
        if clear < len(window):
            window, span = window[:clear], (START_S, START_S + clear / rate_hz)
            pitch = measure(window, rate_hz, START_S)
    if pitch is None:
        return Judged(None, (reason("not-a-string", True),), span)
    spectrum = coarse.spectrum_of(*thinned(window[: round(SPECTRUM_S * rate_hz)], rate_hz, SPECTRUM_HZ))
    found_buzz = buzz_of(samples, rate_hz, pitch)
    evidence = Evidence(window, rate_hz, pitch, levels(window, rate_hz), spectrum, found_buzz)
    found = [check(evidence) for check in CHECKS]
    reasons = tuple(one for one in found if one is not None)
    no_string = any(one.code == "not-a-string" and one.refuses for one in reasons)
    return Judged(None if no_string else pitch, reasons, span, None if no_string else found_buzz)


def _clear_count(window: FloatArray, rate_hz: float, pitch: Pitch) -> int:
    """How many samples there are until what is left of the string drowns in other sound, such as a voice."""
    level = levels(window, rate_hz)
    inside, own = _own_level(pitch, len(level))
    heard, string = (np.cumsum(one[::-1])[::-1] for one in (level[inside], own / 2))
    drowned = np.flatnonzero(heard > DROWNED_RATIO * string)
    if not len(drowned):
        return len(window)
    end_s = max((int(inside[drowned[0]])) * LEVEL_HOP_S, LEAST_CLEAR_S)
    return min(round(end_s * rate_hz), len(window))


def not_a_string(evidence: Evidence) -> Reason | None:
    """Speech, handling, noise: hardly periodic, partials off any string's law, or louder later than at
    first."""
    pitch = evidence.pitch
    level = evidence.level
    third = max(1, len(level) // 3)
    swells = float(level[-third:].mean() / max(level[:third].mean(), 1e-30))
    if pitch.coarse.periodic_ratio < 0.5 or pitch.law.scatter_cents > 8 or swells > 1.5:
        return reason("not-a-string", True)
    share = harmonic_share(evidence)
    if share < 0.3:
        return reason("not-a-string", True)
    if pitch.coarse.periodic_ratio < 0.75 or pitch.law.scatter_cents > 4 or share < 0.6:
        return reason("not-a-string", False)
    return None


def harmonic_share(evidence: Evidence) -> float:
    """Share of the window's power that its string model explains, 0 to 1."""
    bands = evidence.pitch.bands
    power = float(np.sum(np.mean(np.abs(bands.values) ** 2, axis=1)) / 2)
    total = float(np.mean(evidence.samples**2)) * _looked_at(evidence)
    return min(1.0, power / max(total, 1e-30))


def _looked_at(evidence: Evidence) -> float:
    """Share of the power that lies where partials are looked for: a string without its lowest ones has more above."""
    bands, spectrum = evidence.pitch.bands, evidence.spectrum
    if bands.order.max() < coarse.MOST_PARTIALS:
        return 1.0
    top = round(
        float(bands.carrier_hz[-1] + 0.5 * bands.carrier_hz[-1] / bands.order[-1]) / spectrum.hz_per_bin
    )
    power = np.exp(2 * spectrum.log_magnitude)
    return max(float(power[:top].sum() / power.sum()), LEAST_LOOKED_AT)


def clipped(evidence: Evidence) -> Reason | None:
    """Flat tops: runs of samples at the very largest value.

    A soft top looks flat too where samples lie close, or where it is only a few steps of the recording high.
    """
    if evidence.step_count < FEWEST_STEPS:
        return None
    x = np.abs(evidence.samples[:: max(1, round(evidence.rate_hz / FLAT_RATE_HZ))])
    top = float(x.max())
    flat = x >= top * (1 - 2e-4)
    runs = int(np.sum(flat[2:] & flat[1:-1] & flat[:-2]))
    if runs < 5 and not (top >= 0.999 and int(np.sum(x > 0.995)) > 20):
        return None
    return reason("clipped", runs > 0.01 * len(x))


def too_short(evidence: Evidence) -> Reason | None:
    """Less than half a second is not enough to see pitch settle."""
    length_s = len(evidence.samples) / evidence.rate_hz
    return reason("too-short", False) if length_s < DOUBT_BELOW_S else None


def too_quiet(evidence: Evidence) -> Reason | None:
    """The strongest partial hardly stands above the noise, or the whole is only a few steps of the recording high."""
    bands = evidence.pitch.bands
    over = float(np.max(np.sqrt(np.mean(np.abs(bands.values) ** 2, axis=1)) / bands.noise))
    if over < 5 or evidence.step_count < FEWEST_STEPS / 4:
        return reason("too-quiet", True)
    return reason("too-quiet", False) if over < 12 or evidence.step_count < FEWEST_STEPS else None


def second_pluck(evidence: Evidence) -> Reason | None:
    """The string's own level rises again by more than two decibels over 0.15 s, or falls away at once.

    A voice or a fan that comes and goes beside the string is none of its own.
    """
    level = np.log(np.maximum(_own_level(evidence.pitch, len(evidence.level))[1], 1e-30))
    if len(level) < 8:
        return None
    smooth = np.convolve(level, np.ones(3) / 3, "valid")
    rise = float(np.max(smooth[3:] - smooth[:-3]))
    fall = float(np.min(np.diff(level[: len(level) - 1])))
    if rise > 1.4 or fall < -2.5:
        return reason("second-pluck", True)
    return reason("second-pluck", False) if rise > 0.6 or fall < -1.2 else None


def _own_level(pitch: Pitch, count: int) -> tuple[NDArray[np.int_], FloatArray]:
    """Those of `count` pieces of 50 ms in which the partials are known, and the power of these there."""
    bands = pitch.without_hum
    middle = START_S + (np.arange(count) + 0.5) * LEVEL_HOP_S
    inside = np.flatnonzero((middle >= bands.time_s[0]) & (middle <= bands.time_s[-1]))
    power = np.sum(np.abs(bands.values) ** 2, axis=0)
    return inside, np.asarray(np.interp(middle[inside], bands.time_s, power))


def drifting(evidence: Evidence) -> Reason | None:
    """Pitch that moves in a way no settling string does: upward, or far, or longer than the string's energy
    lasts."""
    pitch = evidence.pitch
    time_s, relative, weight = glide.pitch_track(pitch.without_hum, pitch.solution.shape.log_pitch)
    shape = pitch.solution.shape
    cents = CENTS * (relative - shape.glide * np.exp(-shape.glide_rate * time_s))
    parts = np.array_split(np.arange(len(cents)), 5 if len(cents) >= 25 else 3)
    parts = _clear(parts, cents, weight)
    means = np.array([np.average(cents[part], weights=weight[part]) for part in parts])
    wander = float(np.ptp(means))
    settling = np.array([np.mean(shape.glide * np.exp(-shape.glide_rate * time_s[part])) for part in parts])
    track = means + CENTS * settling
    climb = float(track[-1] - track.min())  # a settling string never climbs
    late = float(CENTS * shape.glide * np.exp(-shape.glide_rate * time_s[len(time_s) // 2]))
    if wander > 12 or pitch.glide_cents > 45 or late > 12:
        return reason("drifting", True)
    seen = pitch.glide_cents > GLIDE_SEEN_CENTS
    left = float(CENTS * shape.glide * np.exp(-shape.glide_rate * time_s[-1]))
    # On a soft, short note pitch settles a little slower than the sound: harmless where it did settle.
    slowest = SETTLED_GLIDE_RATIO if left < SETTLED_CENTS else SLOWEST_GLIDE_RATIO
    unlike = seen and not slowest < pitch.glide_ratio < FASTEST_GLIDE_RATIO
    far = pitch.glide_cents > MOST_GLIDE_CENTS or late > 4
    doubtful = unlike or far or wander > MOST_WANDER_CENTS or climb > MOST_CLIMB_CENTS
    return reason("drifting", False) if doubtful else None


def _clear(parts: list[NDArray[np.int_]], cents: FloatArray, weight: FloatArray) -> list[NDArray[np.int_]]:
    """The parts of the pitch track, without those where the string is so faint that its pitch is only noise."""
    share = np.array([weight[part].sum() for part in parts])
    scatter = np.array([np.std(cents[part]) / np.sqrt(len(part)) for part in parts])
    noise = (share < FAINT_RATIO * share.max()) & (scatter > FAINT_CENTS)
    return [part for part, faint in zip(parts, noise, strict=True) if not faint]


def unsure(evidence: Evidence) -> Reason | None:
    """The take's own spread is too wide: a good take is right to within a cent; a short one must be clearer."""
    spread = evidence.pitch.spread_cents
    if spread > 4:
        return reason("unsure", True)
    long = len(evidence.samples) > RECORD_S * evidence.rate_hz
    most = GOOD_SPREAD_CENTS if long else SHORT_SPREAD_CENTS
    return reason("unsure", False) if spread > most else None


def buzzing(evidence: Evidence) -> Reason | None:
    """A string that strikes a crown or a loose part as it swings: its pitch is pulled while it does."""
    return reason("buzz", False) if evidence.buzz is not None and evidence.buzz.heard else None


CHECKS: tuple[Callable[[Evidence], Reason | None], ...] = (
    not_a_string,
    clipped,
    too_short,
    too_quiet,
    mains_hum,
    second_string,
    beating,
    second_pluck,
    drifting,
    wandered,
    buzzing,
    unsure,
)
