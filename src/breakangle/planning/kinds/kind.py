"""What a reading kind, an adjustment kind and a target kind must bring; each is one file that shows a KIND."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment, Reading, Target
from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.move import Move
from breakangle.planning.state.board import Board
from breakangle.planning.state.picture import Picture
from breakangle.reference.routine import cautions_against

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Prediction:
    """What readings should show: values (R,), rows (R, N), and noise no gauge can remove, (R,).

    `left_out` (R,): the spread of what belongs to the figure itself and the state does not hold.
    """

    values: Array
    rows: Array
    unexplained: Array
    left_out: Array | float = 0.0


def no_crown(readings: Sequence[Any], picture: Picture) -> Array:
    """Return the shares of crowns in readings that read none."""
    return np.zeros((len(readings), picture.board.fret_count + 2))


@dataclass(frozen=True)
class ReadingKind:
    """A kind of reading. `predict` takes readings of this kind; `value` and `spread` are in `unit`."""

    name: str
    words: str
    unit: str
    decimals: int
    model: type[Reading]
    how: str
    gauge_spread: float
    surprise: float
    value: Callable[[Reading, Board], float]
    spread: Callable[[Reading], float]
    predict: Callable[[Sequence[Any], Picture], Prediction]
    shown: Callable[[Reading, float, float], Reading]
    candidates: Callable[[Instrument], Sequence[Reading]]
    place: Callable[[Any], str]
    # Where along its string it is read, without the string.
    along: Callable[[Any], str] = lambda reading: tr("fret {fret}", fret=reading.fret)
    # What no gauge removes: two readings of one thing differ by so much (a finger never presses twice alike).
    scatter: float = 0.0
    # What a person should know of such a reading of strings named in words, before trusting it; empty for most.
    remark: Callable[[Any, Instrument, str], str] = lambda reading, instrument, strings: ""
    # What it usually is before anything is read, mean and spread in mm: by that a figure typed in inches is known.
    usual_mm: tuple[float, ...] = ()
    # Of a reading of crowns, the share of every point of its string in it, shape (R, F + 2).
    crown_shares: Callable[[Sequence[Any], Picture], Array] = no_crown

    @property
    def reads_crowns(self) -> bool:
        """Return whether readings of this kind tell how high a crown stands."""
        return self.crown_shares is not no_crown


@dataclass(frozen=True)
class Lever:
    """One adjuster of one instrument, as the solver sees it: amount × direction is added to the state.

    `low`, `high` in the adjustment's own unit; `step` where only whole steps can be set (0: any amount);
    `cost` is in minutes at the bench (a cut that cannot be undone counts more than its time);
    `made` turns an amount into adjustments to make, in order, each at most one move of the hand.
    """

    name: str
    order: int
    unit: str
    direction: Array
    low: float
    high: float
    step: float
    cost: float
    typical: float
    made: Callable[[float], Sequence[Adjustment]]
    # The smallest amount worth a move, where that is more than half of the finest that can be set.
    least: float = 0.0
    # What it does is only roughly known: whatever depends on it must keep a margin for every unit moved.
    doubtful: bool = False
    # It takes away what nothing puts back: nothing of it is ordered before the gate is open.
    irreversible: bool = False
    # It is moved only for a figure that was read twice.
    confirmed: bool = False
    # What it is done in one go with, and the minutes that costs once, however many adjusters are moved in it.
    trip: str = ""
    trip_minutes: float = 0.0
    # How likely its figure has to be outside before it is used: what cannot be put back is not used on a maybe.
    least_chance_out: float = 0.0

    @cached_property
    def trial(self) -> Adjustment:
        """Return one ordinary move of it: what it is and where, by an amount of no meaning."""
        return self.made(self.step or self.typical)[0]


@dataclass(frozen=True)
class Effect:
    """What an adjustment does to the state: the new mean, its rows over the old state, added variance (N,)."""

    mean: Array
    rows: Array
    variance: Array


@dataclass(frozen=True)
class AdjustmentKind:
    """A kind of adjustment; `levers` are what the planner may use of it on this instrument."""

    name: str
    words: str
    order: int
    model: type[Adjustment]
    effect: Callable[[Any, Picture], Effect]
    # What can hurt in doing it, by name (reference/data/dangers.toml): the cautions that are shown follow from it.
    dangers: Callable[[Any, Instrument], tuple[str, ...]]
    # An adjustment as a move that can be put in words.
    move: Callable[[Any, Instrument], Move]
    # What the planner may move of it; none for what a person decides, or what follows from the rest.
    levers: Callable[[Picture], Sequence[Lever]] = lambda picture: ()
    screw: Callable[[Any, Instrument], str | None] = lambda adjustment, instrument: None
    # Whether it counts as set-up work begun (else it is what a person decides, or what follows from the rest).
    planned: bool = True
    # Which targets a person reads to see that it worked.
    verified_by: Callable[[Any, Target], bool] = lambda adjustment, target: False
    finest: Callable[[Instrument], float] = lambda instrument: 0.0
    # What is to be minded on this instrument besides, in words, and said before the cautions.
    particulars: Callable[[Any, Instrument], tuple[str, ...]] = lambda adjustment, instrument: ()

    def told(self, adjustment: Any, instrument: Instrument) -> str:
        """Return what is to be done, in words without their stop."""
        return self.move(adjustment, instrument).words()

    def cautions(self, adjustment: Any, instrument: Instrument) -> tuple[str, ...]:
        """Return what to mind in words: this instrument's particulars, then the cautions of its dangers."""
        shown = cautions_against(self.dangers(adjustment, instrument))
        return (*self.particulars(adjustment, instrument), *(str(row.words) for row in shown))


@dataclass(frozen=True)
class TargetKind:
    """A kind of target: what it wants, how far off is still good, how it reads."""

    name: str
    # A target in words, of the strings that are named to it in words.
    said_of: Callable[[Any, Instrument, str], str]
    unit: str
    decimals: int
    model: type[Target]
    wanted: Callable[[Any], float]
    tolerance: Callable[[Any], float]
    predict: Callable[[Sequence[Any], Picture], Prediction]
    as_reading: Callable[[Any, float, float], Reading]
    # Two targets of one role are about the same thing; a person's wish replaces the house's.
    role: Callable[[Any], tuple[object, ...]]
    # What is beyond a set-up of this instrument when the value stays too low or too high.
    beyond: Callable[[Any, bool, Instrument], str] = field(default=lambda target, low, instrument: "")
    # What work on a target is reckoned by, where that is not what a gauge shows; None for most.
    aimed: Callable[[Any], Callable[[Sequence[Any], Picture], Prediction] | None] = lambda target: None

    def words(self, target: Any, instrument: Instrument) -> str:
        """Return a target in words, with its string: `action at string 3`."""
        return self.said_of(target, instrument, strings_in_words([target.string]))
