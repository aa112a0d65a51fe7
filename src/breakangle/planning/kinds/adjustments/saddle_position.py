"""Saddle position: away from the nut is positive, and flattens the stopped notes. Last of all."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from breakangle.model.instrument import Instrument
from breakangle.model.reading import StringAdjustment
from breakangle.model.words.noun import Between, StringNumber
from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.adjustments.saddle_height import saddle_out_minutes, turns_words
from breakangle.planning.kinds.kind import AdjustmentKind, Effect, Lever
from breakangle.planning.kinds.move import Move
from breakangle.planning.state.bridge_support import bridge_or_saddle, stands_loose
from breakangle.planning.state.expected_minutes import LIKELY_OUT
from breakangle.planning.state.picture import Picture
from breakangle.reference.minutes import minutes_of

# Where nothing else is said below: common practice, no source.
HAND_SPREAD_MM = 0.05  # how well a saddle is set along the string; common practice, no source
CROWN_MINUTES = 1.0  # the crown of a saddle that is out; common practice, no source
CROWN_ORDER = 25  # a saddle that is out for its height is shaped before it goes back
SCREW_TRAVEL_MM = (-6.0, 6.0)
SHAPING_TRAVEL_MM = (-0.9, 0.9)  # half the width of a hand-cut saddle's crown; common practice, no source
# A crown is a minute's work once the saddle is out, which alone is seldom worth it: minutes decide, from here on.
CROWN_LIKELY_OUT = 0.05  # calibrated by closed_loop
FINEST_CROWN_MM = 0.2  # a crown filed to one side; common practice, no source


class SaddlePosition(StringAdjustment):
    """The saddle of `string` moved by `mm`; positive away from the nut.

    `also`: the other strings of its course, where one crown of a one-piece saddle carries them together.
    """

    adjust: Literal["saddle-position"] = "saddle-position"
    also: Annotated[tuple[StringNumber, ...], Field(max_length=5)] = ()
    mm: Annotated[float, Between(-20.0, 20.0, "mm")]

    @property
    def strings(self) -> tuple[int, ...]:
        """Return the strings that the moved place carries."""
        return (self.string, *self.also)

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have."""
        yield from super().misfits(instrument)
        if any(one > len(instrument.strings) for one in self.also):
            yield "also", tr("strings from 1 to {strings_count}", strings_count=len(instrument.strings))

    def format_number(self) -> int:
        """Return the number of the first form of the service file that has what is told here."""
        return 2 if self.also else 1


def _places(adjustment: SaddlePosition, picture: Picture) -> NDArray[np.intp]:
    return np.asarray(picture.layout["saddle_setback"][np.array(adjustment.strings) - 1])


def _effect(adjustment: SaddlePosition, picture: Picture) -> Effect:
    places = _places(adjustment, picture)
    mean, variance = picture.mean.copy(), np.zeros(picture.layout.size)
    mean[places] += adjustment.mm
    if adjustment.mm:
        variance[places] = HAND_SPREAD_MM**2
    return Effect(mean, np.eye(picture.layout.size), variance)


def _lever(one: SaddlePosition, picture: Picture, travel: tuple[float, float], cost: float) -> Lever:
    direction = np.zeros(picture.layout.size)
    by_hand = shaped_by_hand(picture.board.instrument)
    direction[_places(one, picture)] = 1.0
    return Lever(
        name=tr("saddle position, {strings_in_words}", strings_in_words=strings_in_words(one.strings)),
        order=CROWN_ORDER if _in_one_go(picture.board.instrument) else KIND.order,
        unit="mm",
        direction=direction,
        low=travel[0],
        high=travel[1],
        step=0.0,
        cost=cost,
        typical=0.5,
        made=lambda mm: [one.model_copy(update={"mm": round(mm, 3)})],
        trip="saddle" if by_hand else "intonation",
        trip_minutes=saddle_out_minutes(picture.board.string_count) if by_hand else 0.0,
        least_chance_out=CROWN_LIKELY_OUT if _in_one_go(picture.board.instrument) else LIKELY_OUT,
        irreversible=by_hand,
    )


def _levers(picture: Picture) -> Sequence[Lever]:
    instrument = picture.board.instrument
    bridge, by_hand = instrument.bridge, shaped_by_hand(instrument)
    travel = bridge.position_travel_mm or (SHAPING_TRAVEL_MM if by_hand else SCREW_TRAVEL_MM)
    crowns: list[tuple[int, ...]] = [(one.string,) for one in instrument.in_order()]
    if by_hand:
        # A course has one crown, or a place of its own for each string where one cannot serve all.
        crowns = [*(one for one in _courses(instrument) if len(one) > 1), *crowns]
    cost = CROWN_MINUTES if by_hand else minutes_of("screw")
    return [_lever(_of(crown), picture, travel, cost) for crown in crowns]


def shaped_by_hand(instrument: Instrument) -> bool:
    """Return whether a string's place on the bridge is shaped into its crown, and no saddle of its own is moved."""
    return instrument.bridge.kind == "one-piece" or stands_loose(instrument)


def _in_one_go(instrument: Instrument) -> bool:
    """Return whether a crown is shaped while the saddle is out for its height; a loose bridge is slid first."""
    return shaped_by_hand(instrument) and not stands_loose(instrument)


def _of(crown: tuple[int, ...]) -> SaddlePosition:
    """Return the adjustment of one crown, by nothing yet."""
    if len(crown) == 1:
        return SaddlePosition(string=crown[0], mm=0.0)
    return SaddlePosition(string=crown[0], also=crown[1:], mm=0.0)


def _courses(instrument: Instrument) -> list[tuple[int, ...]]:
    """Return the strings of each course, which one crown carries together."""
    found: dict[int, list[int]] = {}
    for one in instrument.in_order():
        found.setdefault(one.course or one.string, []).append(one.string)
    return [tuple(strings) for strings in found.values()]


def _move(adjustment: SaddlePosition, instrument: Instrument) -> Move:
    values = {"way": tr("away from") if adjustment.mm > 0 else tr("toward")}
    amount = (abs(adjustment.mm),)
    if shaped_by_hand(instrument):
        return Move(
            mark("Shape the {part}'s crown at {strings} {amount} {way} the nut"),
            mark("Shaped the {part}'s crown at {strings} {amount} {way} the nut"),
            adjustment.strings,
            amount,
            values | {"part": bridge_or_saddle(instrument)},
        )
    return Move(
        mark("Move the saddle of {strings} {amount} {way} the nut"),
        mark("Moved the saddle of {strings} {amount} {way} the nut"),
        (adjustment.string,),
        amount,
        values,
    )


def _screw(adjustment: SaddlePosition, instrument: Instrument) -> str | None:
    per_turn = instrument.bridge.position_mm_per_turn
    if per_turn is None or shaped_by_hand(instrument):
        return None
    return turns_words(abs(adjustment.mm) / per_turn, tr("back") if adjustment.mm > 0 else tr("forward"))


def _dangers(adjustment: SaddlePosition, instrument: Instrument) -> tuple[str, ...]:
    del adjustment
    if shaped_by_hand(instrument):
        cut = ("wire-under-tension", "filing", "harmful-dust")
        return (*cut, "wood-dust") if stands_loose(instrument) else cut
    always = ("wire-under-tension", "drawn-saddle", "string-to-pitch")
    return (*always, "spring-load", "shared-pull") if instrument.bridge.kind == "floating" else always


def _verified_by(adjustment: SaddlePosition, target: Any) -> bool:
    return target.quantity == "intonation" and bool(target.string in adjustment.strings)


def _finest(instrument: Instrument) -> float:
    if shaped_by_hand(instrument):
        return FINEST_CROWN_MM
    return (instrument.bridge.position_mm_per_turn or 0.6) / 8.0


KIND = AdjustmentKind(
    name="saddle-position",
    words=mark("saddle position"),
    order=50,
    model=SaddlePosition,
    effect=_effect,
    levers=_levers,
    dangers=_dangers,
    move=_move,
    screw=_screw,
    verified_by=_verified_by,
    finest=_finest,
)
