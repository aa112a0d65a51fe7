"""Saddle position: away from the nut is positive, and flattens the stopped notes. Last of all."""

from collections.abc import Sequence
from typing import Annotated, Any, Literal

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.noun import Between
from breakangle.model.reading import StringAdjustment
from breakangle.planning.adjustments.saddle_height import turns_words
from breakangle.planning.kinds import DUST_CAUTION, AdjustmentKind, Effect, Lever
from breakangle.planning.loose import stands_loose
from breakangle.planning.picture import Picture

HAND_SPREAD_MM = 0.05  # how well a saddle is set along the string; common practice, no source
SCREW_TRAVEL_MM = (-6.0, 6.0)
SHAPING_TRAVEL_MM = (-0.9, 0.9)  # half the width of a hand-cut saddle's crown; common practice, no source


class SaddlePosition(StringAdjustment):
    """The saddle of `string` moved by `mm`; positive away from the nut."""

    adjust: Literal["saddle-position"] = "saddle-position"
    mm: Annotated[float, Between(-20.0, 20.0, "mm")]


def _effect(adjustment: SaddlePosition, picture: Picture) -> Effect:
    place = picture.layout["saddle_setback"][adjustment.string - 1]
    mean, variance = picture.mean.copy(), np.zeros(picture.layout.size)
    mean[place] += adjustment.mm
    variance[place] = HAND_SPREAD_MM**2 if adjustment.mm else 0.0
    return Effect(mean, np.eye(picture.layout.size), variance)


def _lever(string: int, picture: Picture, travel: tuple[float, float], cost: float) -> Lever:
    direction = np.zeros(picture.layout.size)
    direction[picture.layout["saddle_setback"][string - 1]] = 1.0
    return Lever(
        name=f"saddle position, string {string}",
        order=KIND.order,
        unit="mm",
        direction=direction,
        low=travel[0],
        high=travel[1],
        step=0.0,
        cost=cost,
        typical=0.5,
        made=lambda mm: [SaddlePosition(string=string, mm=round(mm, 3))],
    )


def _levers(picture: Picture) -> Sequence[Lever]:
    bridge = picture.board.instrument.bridge
    by_hand = bridge.kind == "one-piece" and not stands_loose(picture.board.instrument)
    travel = bridge.position_travel_mm or (SHAPING_TRAVEL_MM if by_hand else SCREW_TRAVEL_MM)
    strings = picture.board.instrument.in_order()
    return [_lever(one.string, picture, travel, 2.0 if by_hand else 1.0) for one in strings]


def _told(adjustment: SaddlePosition, instrument: Instrument) -> str:
    amount, way = f"{abs(adjustment.mm):.2f} mm", "away from" if adjustment.mm > 0 else "toward"
    if stands_loose(instrument):
        return f"Move the bridge under string {adjustment.string} {amount} {way} the nut"
    if instrument.bridge.kind == "one-piece":
        return f"Shape the saddle's crown at string {adjustment.string} {amount} {way} the nut"
    return f"Move the saddle of string {adjustment.string} {amount} {way} the nut"


def _screw(adjustment: SaddlePosition, instrument: Instrument) -> str | None:
    per_turn = instrument.bridge.position_mm_per_turn
    if per_turn is None or instrument.bridge.kind == "one-piece":
        return None
    return turns_words(abs(adjustment.mm) / per_turn, "back" if adjustment.mm > 0 else "forward")


def _cautions(adjustment: SaddlePosition, instrument: Instrument) -> tuple[str, ...]:
    del adjustment
    if stands_loose(instrument):
        return (
            "The bridge stands loose on the top, held by the strings alone: mark its place, slacken them a little and "
            "never all at once, and slide or turn the whole of it. Shape its top only for what is then left.",
        )
    if instrument.bridge.kind == "one-piece":
        return (DUST_CAUTION,)
    return (
        "Eye protection; slacken the string before its saddle is drawn back, then bring it up to pitch again.",
    )


def _verified_by(adjustment: SaddlePosition, target: Any) -> bool:
    return target.quantity == "intonation" and bool(target.string == adjustment.string)


KIND = AdjustmentKind(
    name="saddle-position",
    words="saddle position",
    order=50,
    model=SaddlePosition,
    effect=_effect,
    levers=_levers,
    cautions=_cautions,
    told=_told,
    screw=_screw,
    verified_by=_verified_by,
    finest=lambda instrument: (instrument.bridge.position_mm_per_turn or 0.6) / 8.0,
)
