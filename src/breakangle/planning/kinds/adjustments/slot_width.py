"""Slot width: a nut slot widened for a string that rides on its edges, which then comes down on its ground."""

from typing import Annotated, Any, Literal

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.reading import StringAdjustment
from breakangle.model.words.noun import Between
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.adjustments.nut_slot import NUT_MINUTES
from breakangle.planning.kinds.kind import AdjustmentKind, Effect, Lever
from breakangle.planning.kinds.move import Move
from breakangle.planning.kinds.readings.gap import is_gap, pressed
from breakangle.planning.state.expected_minutes import LIKELY_OUT
from breakangle.planning.state.picture import Picture
from breakangle.reference.minutes import minutes_of

# How well it is known how far a string comes down once its slot lets it in, of what it should; and the least of that.
# Common practice, no source.
FALL_SPREAD_RATIO, LEAST_SPREAD_MM = 0.25, 0.02
FARTHEST_FALL_MM = (
    0.8  # a string this far up does not ride on its slot's edges alone; common practice, no source
)


class SlotWidth(StringAdjustment):
    """The nut slot of `string` widened to its gauge, so that it comes down by `mm`; negative is down."""

    adjust: Literal["slot-width"] = "slot-width"
    mm: Annotated[float, Between(-2.0, 0.0, "mm")]

    def format_number(self) -> int:
        """Return the number of the service file's form that has this kind."""
        return 2


def _effect(adjustment: SlotWidth, picture: Picture) -> Effect:
    place = picture.layout["nut_height"][adjustment.string - 1]
    mean, variance = picture.mean.copy(), np.zeros(picture.layout.size)
    mean[place] += adjustment.mm
    spread = max(FALL_SPREAD_RATIO * abs(adjustment.mm), LEAST_SPREAD_MM)
    variance[place] = spread**2 if adjustment.mm else 0.0
    return Effect(mean, np.eye(picture.layout.size), variance)


def slot_width_lever(string: int, picture: Picture) -> Lever:
    """Return the lever that widens the slot of `string`, for a string that is too thick for it."""
    direction = np.zeros(picture.layout.size)
    direction[picture.layout["nut_height"][string - 1]] = 1.0
    return Lever(
        name=tr("slot width, string {string}", string=string),
        order=KIND.order,
        unit="mm",
        direction=direction,
        low=-FARTHEST_FALL_MM,
        high=0.0,
        step=0.0,
        cost=minutes_of("slot"),
        typical=0.1,
        irreversible=True,
        trip="nut",
        trip_minutes=NUT_MINUTES,
        least_chance_out=LIKELY_OUT,
        made=lambda mm: [SlotWidth(string=string, mm=-abs(round(mm, 3)))],
    )


def _move(adjustment: SlotWidth, instrument: Instrument) -> Move:
    size = instrument.in_order()[adjustment.string - 1].diameter_mm
    return Move(
        mark(
            "Widen the nut slot of {strings} for its {size} mm, and cut it no deeper, "
            "until the string lies on its ground, about {amount} lower"
        ),
        mark(
            "Widened the nut slot of {strings} for its {size} mm, and cut it no deeper, "
            "until the string lay on its ground, about {amount} lower"
        ),
        (adjustment.string,),
        (abs(adjustment.mm),),
        {"size": f"{size:.2f}"},
    )


def _dangers(adjustment: SlotWidth, instrument: Instrument) -> tuple[str, ...]:
    del adjustment, instrument
    return ("wire-under-tension", "tight-slot", "filing", "harmful-dust")


def _verified_by(adjustment: SlotWidth, target: Any) -> bool:
    return is_gap(target) and target.string == adjustment.string and pressed(target) == (False, True)


KIND = AdjustmentKind(
    name="slot-width",
    words=mark("nut slot's width"),
    order=29,
    model=SlotWidth,
    effect=_effect,
    dangers=_dangers,
    move=_move,
    verified_by=_verified_by,
    finest=lambda instrument: 0.02,
)
