"""Which string, and whether open, fretted or a harmonic: from the tuning, and from the order of playing
where sound cannot tell.

A fretted twelfth and the harmonic at the twelfth sound alike, and so may the twelfth of one string and the
next string open. So a whole row of takes is named at once: of all the orders in which people play (string by
string, or all strings open, then all harmonics, then all fretted, or fretted before harmonics; from either
side), the one that explains the row best (Viterbi 1967, IEEE Trans. Inf. Theory 13, 260). Where a string was heard
open, its own partial 2 says where its harmonic must lie; whether that was enough, `octaves` says.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.naming.octaves import Kind, octave_cost

FloatArray = NDArray[np.float64]

KINDS: tuple[Kind, ...] = ("open", "harmonic", "fretted")

# Where nothing else is said below: chosen; no source; `python -m bench listening_honesty` tells what it costs.
FARTHEST_CENTS, FARTHEST_TUNED_CENTS = 90.0, 45.0
LOOSE_CENTS, TIGHT_CENTS = 28.0, 7.0
OFF_ORDER_COST = 6.0
MOST_REPEATS, MOST_TRIED = 4, 12
USUAL_STRETCH_CENTS = 0.26  # partial 2 above twice partial 1, for a stiffness of 1e-4
UNFINISHED_COST = 0.25
# Where the order was told, the open string's partial 2 only tells repeats apart: it never makes up for a skip.
TOLD_RATIO = 0.2
BACK_COST, SKIP_COST, STAY_COST = 4.0, 0.8, 1.5


@dataclass(frozen=True)
class OpenString:
    """What naming needs of a string.

    Attributes:
        number: 1 is the highest.
        open_hz: its note in equal temperament, in Hz.
        fret_count: last fret of the board.
        nut_at_fret: the fret its own nut lies at (a banjo's short fifth string: 5), else 0.
    """

    number: int
    open_hz: float
    fret_count: int
    nut_at_fret: int = 0

    @property
    def octave_fret(self) -> int:
        """The fret one octave above the open string."""
        return self.nut_at_fret + 12


@dataclass(frozen=True)
class Name:
    """What a take is.

    Attributes:
        string: string number.
        fret: 0 open, else the fret pressed, or touched for a harmonic.
        harmonic: number of the natural harmonic, None for none.
        note_hz: that note in equal temperament, in Hz.
        cents: how far the take lies above it.
    """

    string: int
    fret: int
    harmonic: int | None
    note_hz: float
    cents: float


@dataclass(frozen=True)
class Asked:
    """One thing a player may be asked for."""

    string: int
    kind: Kind


USUAL_KINDS: tuple[tuple[Kind, ...], ...] = (
    KINDS,
    ("open", "fretted"),
    ("open", "fretted", "harmonic"),
    ("fretted", "open"),
)


def orders(strings: Sequence[OpenString], told: Sequence[Kind] | None = None) -> list[list[Asked]]:
    """The orders in which people play: string by string or round by round, low string first or high string
    first.

    Args:
        strings: the instrument's strings.
        told: what was played of each string, in that order, where somebody said so.
    """
    found: list[list[Asked]] = []
    low_first = sorted((one.number for one in strings), reverse=True)
    for kinds in [tuple(told)] if told else USUAL_KINDS:
        for numbers in (low_first, low_first[::-1]):
            found.append([Asked(number, kind) for number in numbers for kind in kinds])
            found.append([Asked(number, kind) for kind in kinds for number in numbers])
    return found


def name_row(
    pitches_hz: Sequence[float | None],
    strings: Sequence[OpenString],
    asked: Sequence[Asked] | None = None,
    finished: bool = True,
    octaves_hz: Sequence[float | None] | None = None,
    told: Sequence[Kind] | None = None,
) -> list[Name | None]:
    """Names of a row of takes in the order played; None for a pitch no string of the instrument can give.

    Args:
        pitches_hz: partial 1 of each take; None for a take that could not be measured, which still has its
            place in the row.
        strings: the instrument's strings; leave only one in to say which string it is.
        asked: the order in which they were asked for, if there was one.
        finished: whether the row is whole; then an order that was played to its end is the likelier one.
        octaves_hz: partial 2 of each take by its own law: there an open string's harmonic lies; None takes the
            usual stiffness.
        told: what was played of each string, in that order, where somebody said so.
    """
    if not pitches_hz or not strings:
        return [None] * len(pitches_hz)
    by_number = {one.number: one for one in strings}
    pitches = np.array([np.nan if hz is None else hz for hz in pitches_hz])
    usual = 2 * 2 ** (USUAL_STRETCH_CENTS / 1200) * pitches
    octaves = usual if octaves_hz is None else np.array([np.nan if hz is None else hz for hz in octaves_hz])
    rows = _repeated([list(asked)] if asked else orders(strings, told), len(pitches))
    unfinished = UNFINISHED_COST if finished else 0.0
    costs = _costs(pitches, by_number, {}, 1.0)
    loose = sorted((_align(costs, row, unfinished) for row in rows), key=lambda found: found[0])
    offsets = _offsets(pitches, octaves, by_number, loose[0][1])
    costs = _costs(pitches, by_number, offsets, TOLD_RATIO if asked or told else 1.0)
    tight = [_align(costs, row, unfinished) for _, _, row in loose[:MOST_TRIED]]
    items = min(tight, key=lambda found: found[0])[1]
    return [
        None if np.isnan(hz) else _name(float(hz), by_number, item)
        for hz, item in zip(pitches, items, strict=True)
    ]


def _repeated(rows: list[list[Asked]], take_count: int) -> list[list[Asked]]:
    """Each order with every item plucked once, twice, up to four times, as far as there are takes for it."""
    most = max(1, min(MOST_REPEATS, take_count))
    return [[item for item in row for _ in range(times)] for times in range(1, most + 1) for row in rows]


Found = Asked | tuple[int, int, int | None] | None


@dataclass(frozen=True)
class Tuned:
    """How a string is tuned, in cents from its note; and where its harmonic must lie, in cents from the octave of
    its note, where it was heard open."""

    cents: float
    octave_cents: float | None


def _cents_off(hz: FloatArray, one: OpenString, kind: Kind) -> FloatArray:
    """Cents from the note asked for."""
    note = one.open_hz * (1.0 if kind == "open" else 2.0)
    return np.asarray(1200 * np.log2(hz / note))


def _miss(off_cents: FloatArray, offset_cents: float | None) -> FloatArray:
    """Cost of being that far off, with the string's own tuning offset where it is known."""
    spread = LOOSE_CENTS if offset_cents is None else TIGHT_CENTS
    cost = 0.5 * ((off_cents - (offset_cents or 0.0)) / spread) ** 2
    farthest = FARTHEST_CENTS if offset_cents is None else FARTHEST_TUNED_CENTS
    too_far = np.abs(off_cents - (offset_cents or 0.0)) > farthest
    cost = np.where(too_far, np.inf, np.minimum(cost, 20.0))
    return np.asarray(np.where(np.isnan(off_cents), 0.0, cost))


def _note_cost(
    pitches: FloatArray, one: OpenString, kind: Kind, tuned: Tuned | None, ratio: float
) -> FloatArray:
    """Cost of each pitch for one note of a string, with how the string is tuned where that is known."""
    off_cents = _cents_off(pitches, one, kind)
    if tuned is None or kind == "open" or tuned.octave_cents is None:
        return _miss(off_cents, None if tuned is None else tuned.cents)
    away = off_cents - tuned.octave_cents
    cost = np.where(np.abs(away) > FARTHEST_TUNED_CENTS, np.inf, ratio * octave_cost(kind, away))
    return np.asarray(np.where(np.isnan(away), 0.0, cost))


@dataclass(frozen=True)
class Costs:
    """What each take costs as each note, shape (takes,), and the cheapest place outside any order for each take."""

    notes: dict[Asked, FloatArray]
    other: list[tuple[float, tuple[int, int, int | None] | None]]


def _costs(
    pitches: FloatArray, strings: dict[int, OpenString], offsets: dict[int, Tuned], ratio: float
) -> Costs:
    """What each take costs as each note of these strings."""
    notes = {
        Asked(number, kind): _note_cost(pitches, one, kind, offsets.get(number), ratio)
        for number, one in strings.items()
        for kind in KINDS
    }
    return Costs(notes, [_off_order(float(hz), strings, offsets) for hz in pitches])


def _align(costs: Costs, row: list[Asked], unfinished_cost: float) -> tuple[float, list[Found], list[Asked]]:
    """Least cost of playing these pitches in this order, what each take then is, and the order."""
    emission, other = np.stack([costs.notes[asked] for asked in row], axis=1), costs.other
    other_cost = np.array([cost for cost, _ in other])
    cost_here = np.minimum(emission, other_cost[:, None])
    count = len(row)
    step = np.arange(count)[None, :] - np.arange(count)[:, None]
    move = np.where(step == 0, STAY_COST, np.where(step > 0, SKIP_COST * (step - 1), BACK_COST - 0.2 * step))
    total = 0.1 * np.arange(count) + cost_here[0]
    came = np.zeros((len(emission), count), dtype=int)
    for at in range(1, len(emission)):
        ways = total[:, None] + move
        came[at] = np.argmin(ways, axis=0)
        total = ways[came[at], np.arange(count)] + cost_here[at]
    total = total + np.minimum(unfinished_cost * np.arange(count)[::-1], 4.0)
    place = int(np.argmin(total))
    cost = float(total[place])
    found: list[Found] = []
    for at in range(len(emission) - 1, -1, -1):
        in_order = emission[at, place] <= other_cost[at]
        found.append(row[place] if in_order else other[at][1])
        place = int(came[at, place])
    return cost, found[::-1], row


def _off_order(
    hz: float, strings: dict[int, OpenString], offsets: dict[int, Tuned]
) -> tuple[float, tuple[int, int, int | None] | None]:
    """The cheapest place on the board for a pitch outside the order: any fret, harmonics 2 to 5."""
    best: tuple[float, tuple[int, int, int | None] | None] = (25.0, None)
    if np.isnan(hz):
        return best
    for one in strings.values():
        offset = offsets[one.number].cents if one.number in offsets else None
        above = 1200 * np.log2(hz / one.open_hz) - (offset or 0.0)
        fret = round(above / 100)
        if 0 <= fret <= one.fret_count - one.nut_at_fret:
            cost = (
                OFF_ORDER_COST
                + 0.05 * fret
                + float(_miss(np.array(above - 100 * fret), 0.0 if offset else None))
            )
            if cost < best[0]:
                best = (cost, (one.number, fret + one.nut_at_fret if fret else 0, None))
        for harmonic, touched in ((3, 7), (4, 5)):
            away = np.array(above - 1200 * np.log2(harmonic))
            cost = OFF_ORDER_COST + 4.0 + float(_miss(away, 0.0 if offset else None))
            if cost < best[0]:
                best = (cost, (one.number, touched + one.nut_at_fret, harmonic))
    return best


def _offsets(
    pitches: FloatArray, octaves: FloatArray, strings: dict[int, OpenString], found: list[Found]
) -> dict[int, Tuned]:
    """How far each string is from its note, from its takes named as open; else from its octaves."""
    opened: dict[int, list[int]] = {}
    others: dict[int, list[int]] = {}
    for at, item in enumerate(found):
        if isinstance(item, Asked) and item.kind != "fretted" and not np.isnan(pitches[at]):
            (opened if item.kind == "open" else others).setdefault(item.string, []).append(at)
    tuned = {}
    for number in opened.keys() | others.keys():
        kind: Kind = "open" if number in opened else "harmonic"
        chosen = opened.get(number) or others[number]
        cents = float(np.median(_cents_off(pitches[chosen], strings[number], kind)))
        above = _cents_off(octaves[chosen], strings[number], "harmonic")
        tuned[number] = Tuned(cents, float(np.median(above)) if kind == "open" else None)
    return tuned


def _name(hz: float, strings: dict[int, OpenString], item: Found) -> Name | None:
    """The name of one take."""
    if item is None:
        return None
    if isinstance(item, Asked):
        one = strings[item.string]
        fret = 0 if item.kind == "open" else one.octave_fret
        harmonic = 2 if item.kind == "harmonic" else None
    else:
        number, fret, harmonic = item
        one = strings[number]
    steps = 12 * np.log2(harmonic) if harmonic else max(0, fret - one.nut_at_fret) if fret else 0
    note = one.open_hz * 2 ** (round(float(steps)) / 12)
    return Name(one.number, fret, harmonic, note, float(1200 * np.log2(hz / note)))
