"""A set-up in the figures it is told by, what holds its strings up, and what one that is offered keeps to."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.buzz.contact_notes import board_notes
from breakangle.planning.buzz.figures import measures_of, relief_of
from breakangle.planning.state.picture import Picture

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Limit:
    """A note that holds a string up: it would be heard next. `string` from 1, `stop` 0 when open."""

    string: int
    stop: int
    crown: int


@dataclass(frozen=True)
class Lowest:
    """The lowest set-up: its state, and what limits it; arrays by string (S,), mm.

    Action is the gap over the 12th with the first fret held (open on a string with its own nut), nut
    clearance the gap of the open string over its first crown. `relief_mm` is the sag between first and
    joint fret. Strings whose saddle no note holds up are in `at_usual`, where nobody sets them lower, or in `at_end`,
    where their saddle goes no lower. `nut_raised_mm`, `saddle_raised_mm`: how far each
    stands above where it is now; empty where nothing was moved.
    """

    picture: Picture
    relief_mm: float
    action_mm: Array
    nut_mm: Array
    limits: tuple[Limit, ...]
    at_usual: tuple[int, ...] = ()
    at_end: tuple[int, ...] = ()
    nut_raised_mm: Array = field(default_factory=lambda: np.zeros(0))
    saddle_raised_mm: Array = field(default_factory=lambda: np.zeros(0))


@dataclass(frozen=True)
class Offer:
    """What a set-up keeps to that is offered to be set, beside that nothing is heard in it.

    `least_mm` (S,): no string is set lower than anybody sets it. `relief_mm`: had wherever the action gains nothing
    from another (None: as it is now). `saddle_down_mm`: how far each lever of the saddles goes down, in their order,
    negative (none: as a plan would move them). A nut stays as it is, unless an open string would be heard.
    """

    least_mm: Array
    relief_mm: float | None = None
    saddle_down_mm: tuple[float, ...] = ()


def present(picture: Picture) -> Lowest:
    """The set-up as it is, in the same figures."""
    board = board_notes(picture)
    measures = measures_of(board)
    return Lowest(picture, relief_of(board)[0], measures.action_mm, measures.open_mm, ())
