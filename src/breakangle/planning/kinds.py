"""What a reading kind, an adjustment kind and a target kind must bring; each is one file that shows a KIND."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment, Reading, Target
from breakangle.planning.board import Board
from breakangle.planning.picture import Picture

Array = NDArray[np.float64]
SPRINGS_CAUTION = "The springs of a floating bridge are under load: keep fingers and eyes clear."
ROUND_AGAIN = "A floating bridge gives way to every string: go round the tuning again until all of them stay."
DUST_CAUTION = "Nut, saddle, bone and shell dust is harmful: wet work or extraction, and a mask."


@dataclass(frozen=True)
class Prediction:
    """What readings should show: values (R,), rows (R, N), and noise no gauge can remove, (R,)."""

    values: Array
    rows: Array
    unexplained: Array


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
    # What a person should know of this very reading before trusting it; empty for most.
    remark: Callable[[Any, Instrument], str] = lambda reading, instrument: ""


@dataclass(frozen=True)
class Lever:
    """One adjuster of one instrument, as the solver sees it: amount × direction is added to the state.

    `low`, `high` in the adjustment's own unit; `step` where only whole steps can be set (0: any amount);
    `cost` counts toward the fewest adjusters (a cut that cannot be undone costs more than a screw);
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
    # What it does is only roughly known: whatever depends on it must keep a margin for every unit moved.
    doubtful: bool = False


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
    cautions: Callable[[Any, Instrument], tuple[str, ...]]
    told: Callable[[Any, Instrument], str]
    # What the planner may move of it; none for what a person decides, or what follows from the rest.
    levers: Callable[[Picture], Sequence[Lever]] = lambda picture: ()
    screw: Callable[[Any, Instrument], str | None] = lambda adjustment, instrument: None
    # Whether it counts as set-up work begun (else it is what a person decides, or what follows from the rest).
    planned: bool = True
    # Which targets a person reads to see that it worked.
    verified_by: Callable[[Any, Target], bool] = lambda adjustment, target: False
    finest: Callable[[Instrument], float] = lambda instrument: 0.0


@dataclass(frozen=True)
class TargetKind:
    """A kind of target: what it wants, how far off is still good, how it reads."""

    name: str
    words: Callable[[Any, Instrument], str]
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
