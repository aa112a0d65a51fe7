"""Nut slot: cut deeper with a file, never the other way. Negative cuts deeper."""

from collections.abc import Sequence
from typing import Annotated, Any, Literal

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.noun import Between
from breakangle.model.reading import StringAdjustment
from breakangle.planning.kinds import DUST_CAUTION, AdjustmentKind, Effect, Lever
from breakangle.planning.picture import Picture

HAND_SPREAD_MM = 0.01  # filing in small strokes with a reading in between; common practice, no source
DEEPEST_CUT_MM = 0.8


class NutSlot(StringAdjustment):
    """The nut slot of `string` changed by `mm`; negative cuts deeper."""

    adjust: Literal["nut-slot"] = "nut-slot"
    mm: Annotated[float, Between(-3.0, 3.0, "mm")]


def _effect(adjustment: NutSlot, picture: Picture) -> Effect:
    place = picture.layout["nut_height"][adjustment.string - 1]
    mean, variance = picture.mean.copy(), np.zeros(picture.layout.size)
    mean[place] += adjustment.mm
    variance[place] = HAND_SPREAD_MM**2 if adjustment.mm else 0.0
    return Effect(mean, np.eye(picture.layout.size), variance)


def _lever(string: int, picture: Picture) -> Lever:
    direction = np.zeros(picture.layout.size)
    direction[picture.layout["nut_height"][string - 1]] = 1.0
    return Lever(
        name=f"nut slot, string {string}",
        order=KIND.order,
        unit="mm",
        direction=direction,
        low=-DEEPEST_CUT_MM,
        high=0.0,
        step=0.0,
        cost=2.0,
        typical=0.1,
        made=lambda mm: [NutSlot(string=string, mm=round(mm, 3))],
    )


def _levers(picture: Picture) -> Sequence[Lever]:
    instrument = picture.board.instrument
    if instrument.nut.kind == "zero-fret":
        return []
    # A short string starts at a pip in the board, which nobody files in a set-up.
    return [_lever(one.string, picture) for one in instrument.in_order() if one.nut_at_fret == 0]


def _told(adjustment: NutSlot, instrument: Instrument) -> str:
    del instrument
    return f"Cut the nut slot of string {adjustment.string} deeper by {abs(adjustment.mm):.2f} mm"


def _cautions(adjustment: NutSlot, instrument: Instrument) -> tuple[str, ...]:
    del adjustment, instrument
    return (
        "A slot cut too deep cannot be filed up: a few strokes, then read again.",
        DUST_CAUTION,
    )


def _verified_by(adjustment: NutSlot, target: Any) -> bool:
    held = getattr(target, "held", ())
    return (
        bool(held) and all(fret > target.fret for fret in held) and bool(target.string == adjustment.string)
    )


KIND = AdjustmentKind(
    name="nut-slot",
    words="nut slot",
    order=30,
    model=NutSlot,
    effect=_effect,
    levers=_levers,
    cautions=_cautions,
    told=_told,
    verified_by=_verified_by,
    finest=lambda instrument: 0.01,
)
