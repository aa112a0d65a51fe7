"""How long notes ring along the neck, and dead notes: one fret short on every string is the neck, on one its crown.

A string gives its swing to what holds it. Where the neck swings along at a note's pitch, that note dies early on every
string that has it there (H. Fleischer and T. Zwicker, 1999, Investigating dead spots of electric guitars, Acustica 85,
128, from memory). A short note on one string alone is that string's own: a crown, a slot, a groove.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from breakangle.listening.naming.naming import Name
from breakangle.listening.pitch.falls import falls_of
from breakangle.listening.pitch.measure import Pitch
from breakangle.model.words.speech import tr

# Of a note that rings 60 dB down: ln(10^3). Exact.
SIXTY_DB_NEPERS = float(np.log(1e3))
# Where nothing else is said below: chosen; no source.
CARRYING_PARTIALS = 6  # those that carry a note while it rings
FEWEST_FRETS = 5
SHORT_RATIO = 0.55  # of what its neighbours lead to expect: a difference that is heard at once
MOST_STRINGS_RATIO = 0.5
FEWEST_STRINGS = 3
Cause = Literal["neck", "own", "unknown"]


@dataclass(frozen=True)
class Ringing:
    """One note: string, fret and how long it takes to fall by 60 dB, in seconds."""

    string: int
    fret: int
    seconds: float


@dataclass(frozen=True)
class DeadNote:
    """A note that dies early: how long it rings, what its neighbours lead to expect, and what is to blame."""

    string: int
    fret: int
    seconds: float
    expected_s: float
    cause: Cause

    def words(self) -> str:
        """What was heard, and where to look."""
        blame = {
            "neck": tr(
                "the same fret is short on other strings: the neck swings along there, no crown is to blame"
            ),
            "own": tr("the other strings ring at this fret: look at this string's crown, slot and groove"),
            "unknown": tr(
                "play the same fret on the other strings: short on all is the neck, on one its crown or slot"
            ),
        }[self.cause]
        note = tr("fret {fret}", fret=self.fret) if self.fret else tr("open")
        return tr(
            "String {string}, {note} dies early: {seconds:.1f} s to fall by 60 dB, where its "
            "neighbours lead to expect {expected_s:.1f} s; {blame}",
            string=self.string,
            note=note,
            seconds=self.seconds,
            expected_s=self.expected_s,
            blame=blame,
        )

    def to_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "string": self.string,
            "fret": self.fret,
            "rings_s": round(self.seconds, 2),
            "expected_s": round(self.expected_s, 2),
            "cause": self.cause,
        }


def rings_s(pitch: Pitch) -> float:
    """How long a note takes to fall by 60 dB, in seconds: the partials that carry it, each as loud as it is heard."""
    low = pitch.bands.order <= CARRYING_PARTIALS
    weight = np.sqrt(np.sum(np.abs(pitch.solution.lines) ** 2, axis=1))[low]
    return float(SIXTY_DB_NEPERS / np.exp(np.average(np.log(falls_of(pitch)[low]), weights=weight)))


def ringing_of(takes: Iterable[tuple[Pitch | None, Name | None]]) -> tuple[Ringing, ...]:
    """How long each named note rings, the median where it was played several times; harmonics are left out."""
    found: dict[tuple[int, int], list[float]] = {}
    for pitch, name in takes:
        if pitch is not None and name is not None and name.harmonic is None and pitch.glide_was_looked_for:
            found.setdefault((name.string, name.fret), []).append(rings_s(pitch))
    return tuple(Ringing(*place, float(np.median(times))) for place, times in sorted(found.items()))


def dead_notes(rings: Iterable[Ringing]) -> tuple[DeadNote, ...]:
    """Notes that die much earlier than the others of their string lead to expect, by string and fret.

    Only strings on which at least five notes were heard can tell.
    """
    every = list(rings)
    expected = {
        string: _expected([one for one in every if one.string == string])
        for string in {r.string for r in every}
    }
    told = {(one.string, one.fret): one for one in every if expected[one.string] is not None}
    short = {place for place, one in told.items() if one.seconds < SHORT_RATIO * _at(expected, one)}
    found = []
    for string, fret in sorted(short):
        one = told[string, fret]
        others = [place for place in told if place[1] == fret and place[0] != string]
        also = sum(place in short for place in others)
        cause: Cause = "unknown"
        if len(others) + 1 >= FEWEST_STRINGS:
            cause = "neck" if (also + 1) > MOST_STRINGS_RATIO * (len(others) + 1) else "own"
        found.append(DeadNote(string, fret, one.seconds, _at(expected, one), cause))
    return tuple(found)


def _expected(notes: list[Ringing]) -> tuple[float, float] | None:
    """Height and slope over frets of ln seconds, by the medians of pairs, which single dead notes do not move.

    Source: P. K. Sen (1968), Estimates of the regression coefficient based on Kendall's tau, J. Am. Stat. Assoc. 63,
        1379.
    """
    if len(notes) < FEWEST_FRETS:
        return None
    fret, log = np.array([one.fret for one in notes], dtype=float), np.log([one.seconds for one in notes])
    at, other = np.triu_indices(len(fret), 1)
    slope = float(np.median((log[other] - log[at]) / (fret[other] - fret[at])))
    return float(np.median(log - slope * fret)), slope


def _at(expected: dict[int, tuple[float, float] | None], one: Ringing) -> float:
    line = expected[one.string]
    assert line is not None
    return float(np.exp(line[0] + line[1] * one.fret))
