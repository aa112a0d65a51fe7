"""Old strings by ear: how much sooner the high partials die than when the set was new, or than on the others of it.

Dirt in the windings and worn cores eat the high partials first, and uneven mass throws partials off their law.
Sources: A. J. M. Houtsma (1982), Inharmonicity of wound guitar strings, J. Acoust. Soc. Am. 71, S9 (from memory);
D. Grzybowski et al. (2025), Sensors 25, 3989 (from memory).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from breakangle.drawings.charts.dots import Axes, Series
from breakangle.listening.naming.naming import Name
from breakangle.listening.pitch.measure import Pitch
from breakangle.model.words.speech import tr
from breakangle.services.listening.forms.form import Answer
from breakangle.services.listening.takes import NamedTake

# Where nothing else is said below: calibrated by `python -m bench listening_ages`.
LOW_UP_TO, HIGH_FROM, FEWEST_HIGH = 3, 6, 3
SLOWEST, FASTEST = 0.1, 55.0  # falls per second that a take can tell
LEAST_SCATTER_CENTS = 0.15
OLD_RATIO, WORN_RATIO = 1.8, 1.35  # how much sooner the high partials die; common practice, no source
SPREAD_NEPERS = 0.12  # of one take's own brightness: place and way of the pluck
SCATTER_SHARE = 0.5
Worn = Literal["new", "alike", "worn", "old", "unsure"]


@dataclass(frozen=True)
class Brightness:
    """What one open string tells of its age.

    Attributes:
        falls: how fast each partial falls, per second, by its number.
        spread_nepers: standard uncertainty of the logarithm of how much faster the high ones fall.
        scatter_cents: how far partials lie off the law.
        inharmonicity: B.
        tilt_db: how much weaker each octave of partials is, at the pluck.
    """

    falls: Mapping[int, float]
    spread_nepers: float
    scatter_cents: float
    inharmonicity: float
    tilt_db: float

    @property
    def age(self) -> float:
        """A number that grows with age, in nepers: by it mates are compared."""
        return _steepness(self.falls, self.falls) + SCATTER_SHARE * self.off_law

    @property
    def off_law(self) -> float:
        """How far partials lie off the law, as a logarithm: less than a new string's is nothing."""
        return float(np.log(max(self.scatter_cents, LEAST_SCATTER_CENTS) / LEAST_SCATTER_CENTS))

    def older_by(self, first: "Brightness") -> float:
        """How much it has aged since `first`, in nepers, by the partials that both times were heard."""
        if sum(n >= HIGH_FROM for n in self.falls.keys() & first.falls.keys()) < FEWEST_HIGH:
            return self.age - first.age
        falls = _steepness(self.falls, first.falls) - _steepness(first.falls, self.falls)
        return falls + SCATTER_SHARE * (self.off_law - first.off_law)


def _steepness(falls: Mapping[int, float], also: Mapping[int, float]) -> float:
    """How much faster high partials fall than low ones, as a logarithm, by those that `also` has."""
    both = [(n, np.log(fall)) for n, fall in falls.items() if n in also]
    low, high = ([log for n, log in both if n <= LOW_UP_TO], [log for n, log in both if n >= HIGH_FROM])
    return float(np.mean(high) - np.mean(low)) if low and high else 0.0


@dataclass(frozen=True)
class StringAge:
    """One string against what it, or its mates, sounded like: `ratio` tells how much sooner its high partials die.

    `worn`: "new", "worn" or "old" since it was first heard; against its mates only, "alike" stands for "new", since
    mates may all be old; "unsure" where the pluck's own scatter hides it.
    """

    string: int
    now: Brightness
    then: Brightness | None
    ratio: float
    spread_nepers: float
    worn: Worn

    def words(self) -> str:
        """What was heard, and what to do."""
        against = tr("as when it was first heard") if self.then else tr("as on the middle of its mates")
        told = tr(
            "String {string}: its high partials die {ratio:.1f} times as fast {against} ({low:.1f} to {high:.1f})",
            string=self.string,
            ratio=self.ratio,
            against=against,
            low=self.ratio * float(np.exp(-1.96 * self.spread_nepers)),
            high=self.ratio * float(np.exp(1.96 * self.spread_nepers)),
        )
        ending = {
            "old": tr("it is old: put on a new set before intonation is set"),
            "worn": tr("it has begun to age"),
            "new": tr("it is as fresh as it was"),
            "alike": tr("like its mates: whether the whole set is old, this cannot tell"),
            "unsure": tr("too little to tell it from the pluck's own"),
        }[self.worn]
        return tr("{told}; {ending}", told=told, ending=ending)

    def to_json(self) -> dict[str, Any]:
        """Plain data."""
        reach = 1.96 * self.spread_nepers
        return {
            "string": self.string,
            "worn": self.worn,
            "high_partials_fall_ratio": round(self.ratio, 2),
            "high_partials_fall_ratio_95": [
                round(self.ratio * float(np.exp(-reach)), 2),
                round(self.ratio * float(np.exp(reach)), 2),
            ],
            "against": "first" if self.then else "mates",
            "off_law_cents": round(self.now.scatter_cents, 2),
            "inharmonicity": float(f"{self.now.inharmonicity:.3g}"),
            "tilt_db_per_octave": round(self.now.tilt_db, 1),
        }


def brightness(pitch: Pitch) -> Brightness | None:
    """What a take tells of its string's age; None where too few high partials were heard."""
    shape, lines = pitch.solution.shape, np.abs(pitch.solution.lines) ** 2
    fall = np.clip(shape.decay, SLOWEST, FASTEST)
    if lines.shape[1] > 1:
        second = np.clip(shape.second_decay, SLOWEST, FASTEST)
        fall = (lines[:, 0] * fall + lines[:, 1] * second) / np.maximum(lines.sum(axis=1), 1e-30)
    order = pitch.bands.order
    low, high = order <= LOW_UP_TO, order >= HIGH_FROM
    if not low.any() or np.sum(high) < FEWEST_HIGH:
        return None
    log, n = np.log(fall), np.log(order)
    own = float(np.std(log[high]) / np.sqrt(np.sum(high)))
    level = 10 * np.log10(np.maximum(lines.sum(axis=1), 1e-30))
    tilt = float(np.polyfit(n / np.log(2.0), level, 1)[0])
    falls = dict(zip(order.tolist(), fall.tolist(), strict=True))
    return Brightness(
        falls, float(np.hypot(own, SPREAD_NEPERS)), pitch.law.scatter_cents,
        pitch.law.inharmonicity, -tilt,
    )  # fmt: skip


def heard_brightness(takes: Iterable[tuple[Pitch | None, Name | None]]) -> dict[int, Brightness]:
    """What open strings tell of their age, by string; the middle one where a string was plucked several times."""
    found: dict[int, list[Brightness]] = {}
    for pitch, name in takes:
        if pitch is None or name is None or name.fret or name.harmonic is not None:
            continue
        told = brightness(pitch)
        if told is not None:
            found.setdefault(name.string, []).append(told)
    return {
        string: sorted(several, key=lambda one: one.age)[len(several) // 2]
        for string, several in sorted(found.items())
    }


def ages_of(now: Mapping[int, Brightness], then: Mapping[int, Brightness]) -> tuple[StringAge, ...]:
    """Each string against what it was first, `then`; where that is not known, against the middle of its mates."""
    found = []
    mates = float(np.median([one.age for one in now.values()])) if len(now) >= FEWEST_HIGH else None
    for string, one in now.items():
        first = then.get(string)
        if first is not None:
            difference, spread = one.older_by(first), float(np.hypot(one.spread_nepers, first.spread_nepers))
        elif mates is not None:
            difference, spread = one.age - mates, float(np.hypot(one.spread_nepers, 2 * SPREAD_NEPERS))
        else:
            continue
        worn = _worn(difference, spread, "alike" if first is None else "new")
        found.append(StringAge(string, one, first, float(np.exp(difference)), spread, worn))
    return tuple(found)


def _worn(difference: float, spread: float, else_surely: Worn) -> Worn:
    """A word for it, where it is sure; `else_surely` where it surely has not aged so much more."""
    if difference - 1.64 * spread > np.log(WORN_RATIO) and difference > np.log(OLD_RATIO):
        return "old"
    if difference - 1.64 * spread > 0 and difference > np.log(WORN_RATIO):
        return "worn"
    return else_surely if difference + 1.64 * spread < np.log(OLD_RATIO) else "unsure"


def ages_heard(now: Iterable[NamedTake], then: Iterable[NamedTake] = ()) -> Answer:
    """Return how old the strings sound: against `then`, the set's first recording, or against each other."""
    ages = ages_of(*(heard_brightness((one.take.pitch, one.name) for one in takes) for takes in (now, then)))
    data = {"format": "breakangle/ages/1", "strings": [one.to_json() for one in ages]}
    if not ages:
        told = tr(
            "Too few open strings were heard to tell their age: pluck each alone, and let it ring for two seconds."
        )
        return Answer((told,), data, usable=False)
    ranked = sorted(ages, key=lambda one: -one.ratio)
    series = Series(
        tr("strings"),
        tuple(float(one.string) for one in ages),
        tuple(one.ratio for one in ages),
        frozenset(float(one.string) for one in ages if one.worn == "old"),
    )
    axes = Axes(tr("How old the strings sound"), tr("string"), tr("times as fast as when new"), 2)
    return Answer(tuple(one.words() for one in ranked), data, (series,), axes)
