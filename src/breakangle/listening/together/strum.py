"""All open strings strummed at once: the pitch of each, by the partials that can be told from the other strings'.

Every partial of every string is a line. Each line's band holds its neighbours too, so that the sizes of all lines in it
are fitted together (variable projection, Golub and Pereyra 1973, SIAM J. Numer. Anal. 10, 413); then the neighbours are
taken out, and each string is fitted like a take of its own. The cost grows with the number of lines.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.coarse import Spectrum, spectrum_of
from breakangle.listening.pitch.combine import CENTS
from breakangle.listening.pitch.measure import Pitch, fit
from breakangle.listening.pitch.partials import Bands, demodulate, stiff_partials, thinned

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

# Where nothing else is said below: chosen; no source; `python -m bench listening_together` tells what it costs.
HIGHEST_HZ, MOST_PARTIALS = 3000.0, 14
START_S, LONGEST_S, SHORTEST_S = 0.25, 2.8, 1.2
FRAME_S = 0.24
BLACKMAN_REACH = 3.0  # main lobe of a Blackman window, in turns a frame either way. Exact.
FARTHEST_CENTS, COARSE_STEP_CENTS, FINE_STEP_CENTS = 120.0, 1.0, 0.5
COARSE_PARTIALS, CAP_NEPERS, SHARED_HZ = 10, 4.0, 1.6
ROUNDS = 3
# What is left of a neighbour that was taken out, as a share of its size, where the two hardly turn against each other.
LEFT_RATIO, TURNS_TO_PART = 0.3, 2.0
CLEAR_HZ, FEWEST_CLEAR, FEWEST_ODD = 1.6, 5, 3
FEWEST_LINES, LEAST_CLEAR, MOST_LOST_CENTS = 3, 4.0, 12.0
KNOWN_B_RATIO, LEAST_B_SPREAD = 0.5, 6e-5  # how well the stiffness of a string is known beforehand


@dataclass(frozen=True)
class OpenNote:
    """A string that is expected: its number, the note it should have in Hz, and its B."""

    number: int
    hz: float
    inharmonicity: float


@dataclass(frozen=True)
class Strummed:
    """One string of a strum: its pitch; None where its partials cannot be told from the other strings'.

    `sure` is false where hardly any of its partials stands clear of another string's, as of an octave in tune.
    """

    number: int
    pitch: Pitch | None
    sure: bool = False


@dataclass(frozen=True)
class _Lines:
    """Lines of all strings: whose they are, which partial, Hz and fall per second; shape (lines,)."""

    string: NDArray[np.int64]
    order: NDArray[np.int64]
    hz: FloatArray
    decay: FloatArray


def strummed(samples: FloatArray, rate_hz: float, notes: Sequence[OpenNote]) -> tuple[Strummed, ...]:
    """The pitch of each string of a strum whose first sample is its beginning; none where it rings too short.

    Args:
        samples: mono, shape (samples,).
        rate_hz: samples a second.
        notes: the strings that were strummed.
    """
    window = samples[round(START_S * rate_hz) : round((START_S + LONGEST_S) * rate_hz)]
    if len(window) < SHORTEST_S * rate_hz or not notes:
        return ()
    thin, thin_hz = thinned(window, rate_hz, HIGHEST_HZ)
    found_hz = _coarse(spectrum_of(thin, thin_hz), notes)
    lines = _lines_of(notes, found_hz)
    time_s, values, correlation = demodulate(thin, thin_hz, START_S, lines.hz, FRAME_S)
    carrier = lines.hz
    for _ in range(ROUNDS):
        lines = _followed(lines, carrier, time_s, values)
    alone, noise = _parted(lines, carrier, time_s, values)
    span = (START_S, START_S + len(window) / rate_hz)
    found = []
    for at, note in enumerate(notes):
        own = lines.string == at
        bands = Bands(lines.order[own], carrier[own], time_s, alone[own], noise[own], correlation)
        level = np.sqrt(np.mean(np.abs(bands.values) ** 2, axis=1))
        clear = (level > LEAST_CLEAR * bands.noise) & (level > 2e-3 * level.max())
        pitch = None
        if np.sum(clear) >= FEWEST_LINES:
            bands = bands.keep(clear)
            none = np.zeros((len(bands.order), 0, len(time_s)), dtype=complex)
            known_b = (
                note.inharmonicity,
                float(np.hypot(KNOWN_B_RATIO * note.inharmonicity, LEAST_B_SPREAD)),
            )
            pitch = fit(bands, none, span, known_b=known_b)
            if abs(CENTS * np.log(pitch.law.partial_one_hz / found_hz[at])) > MOST_LOST_CENTS:
                pitch = None
        sure = pitch is not None and _own(pitch.bands.order) and _clear_count(lines, at) >= FEWEST_CLEAR
        found.append(Strummed(note.number, pitch, sure))
    return tuple(found)


def _laws(note: OpenNote, hz: FloatArray | float, order: FloatArray) -> FloatArray:
    """Partials of a note whose partial 1 lies at `hz`."""
    base = np.asarray(hz) / np.sqrt(1 + note.inharmonicity)
    return np.asarray(base[..., None] * stiff_partials(1.0, note.inharmonicity, order))


def _coarse(spectrum: Spectrum, notes: Sequence[OpenNote]) -> FloatArray:
    """Partial 1 of each string, to a cent or two, shape (strings,): the pitch whose partials stand out most.

    The strings' own partials fall together in places; where another string already explains a peak, it counts less.
    """
    found = np.array([note.hz for note in notes])
    order = np.arange(1.0, COARSE_PARTIALS + 1)
    height = np.clip(spectrum.log_magnitude - spectrum.log_floor, 0.0, CAP_NEPERS)
    at_hz = np.arange(len(height)) * spectrum.hz_per_bin
    for turn in range(ROUNDS):
        for at, note in enumerate(notes):
            free = height.copy()
            if turn:
                for other, each in enumerate(notes):
                    if other == at:
                        continue
                    for peak in _laws(each, found[other], np.arange(1.0, 2 * COARSE_PARTIALS)):
                        free[np.abs(at_hz - peak) < SHARED_HZ] *= 0.25
            reach = np.arange(
                -FARTHEST_CENTS, FARTHEST_CENTS + 1, FINE_STEP_CENTS if turn else COARSE_STEP_CENTS
            )
            tried = note.hz * np.exp(reach / CENTS)
            partials = _laws(note, tried, order)
            partials = np.where(partials < HIGHEST_HZ, partials, 0.0)
            found[at] = tried[int(np.argmax(np.interp(partials, at_hz, free).sum(axis=1)))]
    return found


def _lines_of(notes: Sequence[OpenNote], found_hz: FloatArray) -> _Lines:
    """All partials of all strings up to the highest that is looked at."""
    string, order, hz = [], [], []
    for at, note in enumerate(notes):
        n = np.arange(1, MOST_PARTIALS + 1)
        partials = _laws(note, found_hz[at], n.astype(float))
        keep = partials < HIGHEST_HZ
        string += [at] * int(keep.sum())
        order += n[keep].tolist()
        hz += partials[keep].tolist()
    count = np.array(order)
    return _Lines(np.array(string), count, np.array(hz), 1.0 + 0.1 * count)


def _own(order: NDArray[np.int64]) -> bool:
    """Whether the partials heard may be a string's own: enough, and not only every second as an octave's would be."""
    return len(order) >= FEWEST_CLEAR and int(np.sum(order % 2 == 1)) >= FEWEST_ODD


def _clear_count(lines: _Lines, string: int) -> int:
    """How many of a string's partials stand clear of every other string's."""
    own, others = lines.hz[lines.string == string], lines.hz[lines.string != string]
    if not len(others):
        return len(own)
    return int(np.sum(np.abs(own[:, None] - others).min(axis=1) > CLEAR_HZ))


def _near(lines: _Lines, carrier: FloatArray, at: int) -> NDArray[np.int64]:
    """The other lines that the band of one line hears."""
    near = np.flatnonzero(np.abs(lines.hz - carrier[at]) < BLACKMAN_REACH / FRAME_S)
    return np.asarray(near[near != at])


def _rows(lines: _Lines, which: NDArray[np.int64], carrier_hz: float, time_s: FloatArray) -> ComplexArray:
    """How each of some lines goes on in a band, shape (frames, lines)."""
    turn = 2j * np.pi * (lines.hz[which] - carrier_hz) - lines.decay[which]
    return np.asarray(np.exp(np.outer(time_s, turn)))


def _followed(lines: _Lines, carrier: FloatArray, time_s: FloatArray, values: ComplexArray) -> _Lines:
    """The lines after one step of each one's own pitch and fall, its neighbours' sizes fitted along."""
    hz, decay = lines.hz.copy(), lines.decay.copy()
    for at in range(len(hz)):
        which = np.concatenate([[at], _near(lines, carrier, at)])
        rows = _rows(lines, which, carrier[at], time_s)
        base, _ = np.linalg.qr(rows)
        sizes = np.linalg.lstsq(rows, values[at], rcond=None)[0]
        left = values[at] - rows @ sizes
        own = rows[:, 0] * sizes[0]
        slopes = np.stack([2j * np.pi * time_s * own, -time_s * own], axis=1)
        slopes = slopes - base @ (base.conj().T @ slopes)
        normal, pull = (slopes.conj().T @ slopes).real, (slopes.conj().T @ left).real
        noise = max(float(np.mean(np.abs(left) ** 2)), 1e-4 * float(np.mean(np.abs(own) ** 2)), 1e-24)
        # A line hardly strays from where the string's law puts it, and falls about as strings do.
        normal = normal / noise + np.diag([(CENTS / (2.0 * hz[at])) ** 2, 1 / 0.5**2])
        step = np.linalg.solve(normal, pull / noise)
        hz[at] += float(np.clip(step[0], -0.3, 0.3))
        decay[at] = float(np.clip(decay[at] + np.clip(step[1], -1.0, 1.0), 0.1, 30.0))
    return replace(lines, hz=hz, decay=decay)


def _parted(
    lines: _Lines, carrier: FloatArray, time_s: FloatArray, values: ComplexArray
) -> tuple[ComplexArray, FloatArray]:
    """Each line's band without its neighbours (lines, frames), and its noise with what is left of them (lines,)."""
    alone, noise = values.copy(), np.zeros(len(carrier))
    length_s = float(time_s[-1] - time_s[0])
    for at in range(len(carrier)):
        which = np.concatenate([[at], _near(lines, carrier, at)])
        rows = _rows(lines, which, carrier[at], time_s)
        sizes = np.linalg.lstsq(rows, values[at], rcond=None)[0]
        taken = rows[:, 1:] * sizes[1:]
        alone[at] = values[at] - taken.sum(axis=1)
        left = values[at] - rows @ sizes
        turns = np.abs(lines.hz[which[1:]] - lines.hz[at]) * length_s
        kept = LEFT_RATIO * np.exp(-((turns / TURNS_TO_PART) ** 2)) + 0.01
        rest = np.sum((kept * np.sqrt(np.mean(np.abs(taken) ** 2, axis=0))) ** 2)
        noise[at] = np.sqrt(np.mean(np.abs(left) ** 2) * 0.25 + rest) + 1e-12
    return alone, noise
