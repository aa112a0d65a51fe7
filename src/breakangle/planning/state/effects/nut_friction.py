"""Friction at the nut: in what band an open string may stand after tuning, and what tuning down and up teaches of it.

The prior is the make's friction at a usual break and head. Learning: a string tuned *down* to pitch and then bent falls
by up to the whole band, one tuned *up* to pitch and bent hardly falls; the difference is the band.
"""

from functools import lru_cache
from math import hypot

import numpy as np
from numpy.typing import NDArray

from breakangle.model.words.message import Message
from breakangle.physics.string.nut_friction import held_back_cents
from breakangle.planning.state.board import Board
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.behaviour import behaviour, nut_angle

Array = NDArray[np.float64]
READ_SPREAD_CENTS = 1.0  # a tuner read by eye, one standard deviation; common practice, no source
SAID_FROM_CENTS = 2.0  # a tuner's lamp shows less as in tune; common practice, no source


@lru_cache(maxsize=64)
def held_back(board: Board) -> tuple[Known, ...]:
    """Return the whole width of each open string's band in cents, with nothing measured."""
    usual, found = nut_angle(), []
    for index, one in enumerate(board.instrument.in_order()):
        friction, length = behaviour(one.make).nut_friction_ratio, float(board.open_length_mm[index])
        width = held_back_cents(
            friction_ratio=friction.mean,
            break_angle_degrees=usual.break_angle_degrees.mean,
            head_mm=usual.head_ratio.mean * length,
            length_mm=length,
        )
        shares = [part.sd / part.mean for part in (friction, usual.break_angle_degrees, usual.head_ratio)]
        found.append(Known(float(width), float(width) * hypot(*shares)))
    return tuple(found)


@lru_cache(maxsize=64)
def tuned_variance(board: Board) -> Array:
    """Return by how much friction widens each open string's pitch just after tuning, in cents², (S,).

    Which side it was tuned from nobody tells, so it may stand anywhere in its band: a twelfth of its square.
    """
    found = np.array([(one.value**2 + one.uncertainty**2) / 12.0 for one in held_back(board)])
    found.flags.writeable = False
    return found


def learned(
    prior: Known,
    fallen_tuned_down_cents: float,
    fallen_tuned_up_cents: float,
    read_cents: float = READ_SPREAD_CENTS,
) -> Known:
    """Return a string's band in cents after a bend on either side of tuning, each a change of pitch (down negative).

    Never below nothing: a string that falls more when it was tuned up has not settled, and teaches only that.
    """
    read = max(fallen_tuned_up_cents - fallen_tuned_down_cents, 0.0)
    spread = hypot(
        2.0 * read_cents, 0.2 * read
    )  # two pitches before and two after; a bend rarely frees it all
    information = 1.0 / prior.uncertainty**2 + 1.0 / spread**2
    mean = (prior.value / prior.uncertainty**2 + read / spread**2) / information
    return Known(max(mean, 0.0), information**-0.5)


def tune_up(bands: dict[int, Known]) -> Message | None:
    """Return that strings are to be tuned up to pitch, with the widest of their bands; None where all are small."""
    string, widest = max(bands.items(), key=lambda one: one[1].value)
    if widest.value < SAID_FROM_CENTS:
        return None
    values = {"string": string, "cents": widest.value, "most_cents": widest.high}
    return Message(key="effects.tune_up", values=values, about=("nut", f"string {string}"))
