"""Open, harmonic and fretted notes of a string combined into one figure: how far the fretted octave is from
the true one."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from breakangle.listening.pitch.partials import stiff_partials
from breakangle.model.words.speech import tr

# Where nothing else is said below: common practice, no source.
DISAGREE_SPREADS = 3.0
SCATTER_CENTS = 1.0
SMALLEST_APART_CENTS = 0.5


@dataclass(frozen=True)
class Heard:
    """One note that was measured.

    Attributes:
        partial_one_hz: partial 1, in Hz.
        uncertainty_cents: its standard uncertainty.
        fundamental_hz: f0 of the stiff-string law.
        inharmonicity: B of that law.
    """

    partial_one_hz: float
    uncertainty_cents: float
    fundamental_hz: float
    inharmonicity: float


@dataclass(frozen=True)
class Middle:
    """The middle of several plucks of the same note: Hz, standard uncertainty in cents, spread of the plucks
    in cents."""

    hz: float
    uncertainty_cents: float
    spread_cents: float
    count: int


@dataclass(frozen=True)
class Intonation:
    """How far a string's fretted octave lies above its true octave.

    Attributes:
        cents: fretted minus harmonic; positive is sharp, the saddle goes away from the nut.
        uncertainty_cents: its standard uncertainty.
        disagreements: in words, what does not fit together.
    """

    cents: float
    uncertainty_cents: float
    disagreements: tuple[str, ...]


def middle(notes: Sequence[Heard]) -> Middle:
    """Median of several plucks of one note, with the larger of their own uncertainty and what their spread
    tells."""
    hz = np.array([note.partial_one_hz for note in notes])
    centre = float(np.median(hz))
    cents = 1200 * np.log2(hz / centre)
    own = float(np.median([note.uncertainty_cents for note in notes]))
    # 1.4826: a normal spread from the median of distances; 1.2533: a median is that much wider than a mean.
    spread = 1.4826 * float(np.median(np.abs(cents))) if len(hz) > 2 else float(np.ptp(cents)) / np.sqrt(2)
    factor = 1.0 if len(hz) < 3 else 1.2533 / np.sqrt(len(hz))
    smallest = 0.1
    return Middle(centre, max(max(own, spread) * factor, smallest), spread, len(hz))


def octave_from_open(notes: Sequence[Heard]) -> Middle:
    """The harmonic at the twelfth as the open string's own law foretells it: its partial 2.

    Partial 2 is not twice partial 1: f_2 / f_1 = 2 sqrt((1 + 4 B) / (1 + B)), about 2600 B cents more.
    Source: Fletcher (1964), J. Acoust. Soc. Am. 36, 203.
    """
    two = np.array([2.0])
    second = [
        Heard(
            float(stiff_partials(note.fundamental_hz, note.inharmonicity, two)[0]),
            float(np.hypot(note.uncertainty_cents, 0.1)),
            note.fundamental_hz,
            note.inharmonicity,
        )
        for note in notes
    ]
    return middle(second)


def intonation(
    open_notes: Sequence[Heard], harmonics: Sequence[Heard], fretted: Sequence[Heard]
) -> Intonation | None:
    """One figure for a string from all that was heard of it; None without a fretted note and something to
    hold it to.

    Args:
        open_notes: plucks of the open string.
        harmonics: plucks of the harmonic at the twelfth.
        fretted: plucks stopped at the twelfth fret.
    """
    if not fretted or not (harmonics or open_notes):
        return None
    stopped = middle(fretted)
    told: list[str] = []
    for words, group in (("open", open_notes), ("harmonic", harmonics), ("fretted", fretted)):
        if len(group) > 1 and middle(group).spread_cents > SCATTER_CENTS:
            told.append(
                tr(
                    "the {words} plucks differ by {span:.1f} cents: pluck again, softer and alike",
                    words=words,
                    span=_span(group),
                )
            )
    truths = [middle(harmonics)] if harmonics else []
    if open_notes:
        truths.append(octave_from_open(open_notes))
    truth, spread = truths[0].hz, truths[0].uncertainty_cents
    if len(truths) == 2:
        apart = 1200 * float(np.log2(truths[1].hz / truths[0].hz))
        contradiction = apart_words(open_notes, harmonics)
        if contradiction is not None:
            told.append(contradiction)
            spread = float(np.hypot(spread, apart / 2))
        else:
            weight = np.array([t.uncertainty_cents**-2 for t in truths])
            truth *= 2 ** (apart * float(weight[1] / weight.sum()) / 1200)
            spread = float(weight.sum() ** -0.5)
    cents = 1200 * float(np.log2(stopped.hz / truth))
    return Intonation(cents, float(np.hypot(stopped.uncertainty_cents, spread)), tuple(told))


def apart_words(open_notes: Sequence[Heard], harmonics: Sequence[Heard]) -> str | None:
    """That open string and harmonic do not fit together, in a sentence; None where they do or one is missing."""
    if not open_notes or not harmonics:
        return None
    truths = middle(harmonics), octave_from_open(open_notes)
    apart = abs(1200 * float(np.log2(truths[1].hz / truths[0].hz)))
    expected = float(np.hypot(truths[0].uncertainty_cents, truths[1].uncertainty_cents))
    if apart <= max(DISAGREE_SPREADS * expected, SMALLEST_APART_CENTS):
        return None
    return tr(
        "open string and harmonic disagree by {apart:.1f} cents: the string moved, play both again",
        apart=apart,
    )


def _span(notes: Sequence[Heard]) -> float:
    """Largest difference between plucks, in cents."""
    hz = np.array([note.partial_one_hz for note in notes])
    return float(1200 * np.log2(hz.max() / hz.min()))
