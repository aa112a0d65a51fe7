"""Saddle height: a screw per string, a post at either side, or a saddle cut by hand. Positive is up."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.instrument import Instrument
from breakangle.model.noun import Between, StringNumber
from breakangle.model.reading import Adjustment
from breakangle.planning.kinds import DUST_CAUTION, SPRINGS_CAUTION, AdjustmentKind, Effect, Lever
from breakangle.planning.loose import bridge_or_saddle, stands_loose
from breakangle.planning.picture import Picture

HAND_SPREAD_MM = 0.015  # how well a screw is set or a saddle cut; common practice, no source
POST_SPREAD_RATIO = 1.42  # the posts stand wider than the strings; common practice, no source
LARGEST_MOVE_MM = 4.0
CUT_COST = 2.0
# So deep a cut asks for a look at what is left, and at the neck's angle; common practice, no source.
DEEP_CUT_MM, STANDS_PROUD_MM = 1.0, 2.0
SHAPE_COST = 2.5


class SaddleHeight(Adjustment):
    """The saddle of `string`, or the `post` at one side, raised by `mm`."""

    adjust: Literal["saddle-height"] = "saddle-height"
    string: StringNumber | None = None
    post: Literal["bass", "treble"] | None = None
    mm: Annotated[float, Between(-10.0, 10.0, "mm")]

    @model_validator(mode="after")
    def _one_place(self) -> Self:
        if (self.string is None) == (self.post is None):
            allowed = "given, either it or post, and not both"
            raise PydanticCustomError("at", "must be {allowed}", {"allowed": allowed, "key": "string"})
        return self

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have."""
        if self.string is not None and self.string > len(instrument.strings):
            yield "string", f"a string from 1 to {len(instrument.strings)}"


def _shares(adjustment: SaddleHeight, picture: Picture) -> NDArray[np.float64]:
    """Return how far each string's saddle moves per mm, shape (S,)."""
    shares = np.zeros(picture.board.string_count)
    if adjustment.string is not None:
        shares[adjustment.string - 1] = 1.0
        return shares
    side = 1.0 if adjustment.post == "treble" else -1.0
    return np.asarray(0.5 * (1.0 + side * picture.board.side_ratio / POST_SPREAD_RATIO))


def _effect(adjustment: SaddleHeight, picture: Picture) -> Effect:
    layout = picture.layout
    rows = np.eye(layout.size)
    shares = _shares(adjustment, picture)
    rows[layout["saddle_height"], layout["saddle_response"][0]] = adjustment.mm * shares
    variance = np.zeros(layout.size)
    variance[layout["saddle_height"]] = (HAND_SPREAD_MM * shares) ** 2
    return Effect(rows @ picture.mean, rows, variance)


def _lever(adjustment: SaddleHeight, picture: Picture, travel: tuple[float, float], cost: float) -> Lever:
    direction = np.zeros(picture.layout.size)
    response = float(picture.mean[picture.layout["saddle_response"][0]])
    direction[picture.layout["saddle_height"]] = _shares(adjustment, picture) * response
    place = f"string {adjustment.string}" if adjustment.string else f"{adjustment.post} side"
    return Lever(
        name=f"saddle height, {place}",
        order=KIND.order,
        unit="mm",
        direction=direction,
        low=travel[0],
        high=travel[1],
        step=0.0,
        cost=cost,
        typical=0.25,
        made=lambda mm: [adjustment.model_copy(update={"mm": round(mm, 3)})],
    )


def _levers(picture: Picture) -> Sequence[Lever]:
    bridge = picture.board.instrument.bridge
    strings = range(1, picture.board.string_count + 1)
    per_string = [SaddleHeight(string=number, mm=0.0) for number in strings]
    posts = [SaddleHeight(post="bass", mm=0.0), SaddleHeight(post="treble", mm=0.0)]
    both_ways = bridge.height_travel_mm or (-LARGEST_MOVE_MM, LARGEST_MOVE_MM)
    if bridge.kind == "two-post":
        return [_lever(one, picture, both_ways, 1.0) for one in posts]
    if bridge.kind == "one-piece":
        down = (max(both_ways[0], -LARGEST_MOVE_MM), 0.0)
        whole = [_lever(one, picture, down, CUT_COST) for one in posts]
        return whole + [_lever(one, picture, (max(down[0], -0.6), 0.0), SHAPE_COST) for one in per_string]
    return [_lever(one, picture, both_ways, 1.0) for one in per_string]


def _told(adjustment: SaddleHeight, instrument: Instrument) -> str:
    amount = f"{abs(adjustment.mm):.2f} mm"
    place = f"string {adjustment.string}" if adjustment.string else f"the {adjustment.post} side"
    part = bridge_or_saddle(instrument)
    if instrument.bridge.kind == "one-piece":
        return f"Take {amount} off the {part} at {place}"
    return f"{'Raise' if adjustment.mm > 0 else 'Lower'} the {part} at {place} by {amount}"


def _screw(adjustment: SaddleHeight, instrument: Instrument) -> str | None:
    per_turn = instrument.bridge.height_mm_per_turn
    if per_turn is None or instrument.bridge.kind == "one-piece":
        return None
    return turns_words(abs(adjustment.mm) / per_turn, "up" if adjustment.mm > 0 else "down")


def turns_words(turns: float, way: str) -> str:
    """Return a number of turns to the nearest eighth, in words."""
    eighths = round(turns * 8)
    whole, rest = divmod(eighths, 8)
    parts = [str(whole)] if whole else []
    if rest:
        top, bottom = rest, 8
        while top % 2 == 0:
            top, bottom = top // 2, bottom // 2
        parts.append(f"{top}/{bottom}")
    if not parts:
        return f"a touch {way}, under 1/16 turn"
    return f"{' '.join(parts)} turn{'s' if eighths > 8 else ''} {way}"


def _cautions(adjustment: SaddleHeight, instrument: Instrument) -> tuple[str, ...]:
    kind, loose = instrument.bridge.kind, stands_loose(instrument)
    if kind == "one-piece":
        deep = adjustment.mm < -DEEP_CUT_MM
        return (*((_DEEP_IN_BRIDGE if loose else _DEEP_IN_SADDLE,) if deep else ()), DUST_CAUTION)
    if kind == "floating":
        return (SPRINGS_CAUTION,)
    if loose:
        return ("Slacken the strings before the bridge's wheels are turned; never force them.",)
    return ("Slacken a string whose saddle screw is hard to turn; never force it.",)


_DEEP_IN_SADDLE = (
    f"Before cutting, see how far the saddle stands out of its slot: about {STANDS_PROUD_MM:.1f} mm must stay for the "
    "strings to bend over. A cut this deep often means that the neck's angle wants a specialist's eye."
)
_DEEP_IN_BRIDGE = (
    "Before cutting, see that enough of the bridge stays under its notches. A cut this deep often means that a lower "
    "bridge should stand there, or that the neck's angle wants a specialist's eye."
)


def _verified_by(adjustment: SaddleHeight, target: Any) -> bool:
    held = getattr(target, "held", None)
    low_enough = held is not None and not any(fret > target.fret for fret in held)
    return low_enough and adjustment.string in (None, target.string)


def _finest(instrument: Instrument) -> float:
    return (instrument.bridge.height_mm_per_turn or 0.4) / 16.0


KIND = AdjustmentKind(
    name="saddle-height",
    words="saddle height",
    order=20,
    model=SaddleHeight,
    effect=_effect,
    levers=_levers,
    cautions=_cautions,
    told=_told,
    screw=_screw,
    verified_by=_verified_by,
    finest=_finest,
)
