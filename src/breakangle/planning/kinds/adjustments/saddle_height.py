"""Saddle height: a screw per string, a post at either side, or a saddle cut by hand. Positive is up."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.words.noun import Between, StringNumber
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.kind import (
    AdjustmentKind,
    Effect,
    Lever,
)
from breakangle.planning.kinds.move import Move
from breakangle.planning.kinds.readings.gap import is_gap, pressed
from breakangle.planning.state.bridge_support import POSTS, bridge_or_saddle, stands_loose
from breakangle.planning.state.expected_minutes import LIKELY_OUT
from breakangle.planning.state.picture import Picture
from breakangle.reference.minutes import minutes_of

# Where nothing else is said below: common practice, no source.
HAND_SPREAD_MM = 0.015  # how well a screw is set or a saddle cut; common practice, no source
SCREW_SPREAD_RATIO = (
    0.04  # of its movement: one screw of a bridge against the next; common practice, no source
)
POST_SPREAD_RATIO = 1.42  # the posts stand wider than the strings; common practice, no source
LARGEST_MOVE_MM = 4.0
CUT_MINUTES = 1.0  # each cut of a saddle that is out; common practice, no source
RETUNED_MINUTES = (
    1.0  # a bridge brought back to pitch after its screws were turned; common practice, no source
)
# So deep a cut asks for a look at what is left, and at the neck's angle; common practice, no source.
DEEP_CUT_MM, STANDS_PROUD_MM = 1.0, 2.0
DEEPEST_SHAPE_MM = -0.6  # one string's part of a saddle cut by hand; common practice, no source
# Less than that nobody takes off evenly by hand, from the whole of a saddle and from its crown under one string.
# Common practice, no source.
LEAST_CUT_MM, LEAST_SHAPE_MM = 0.1, 0.05


class SaddleHeight(Adjustment):
    """The saddle of `string`, or the `post` at one side, raised by `mm`."""

    adjust: Literal["saddle-height"] = "saddle-height"
    string: StringNumber | None = None
    post: Literal["bass", "treble"] | None = None
    mm: Annotated[float, Between(-10.0, 10.0, "mm")]

    @model_validator(mode="after")
    def _one_place(self) -> Self:
        if (self.string is None) == (self.post is None):
            allowed = tr("given, either it or post, and not both")
            raise PydanticCustomError("at", tr("must be {allowed}"), {"allowed": allowed, "key": "string"})
        return self

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have."""
        if self.string is not None and self.string > len(instrument.strings):
            yield "string", tr("a string from 1 to {strings_count}", strings_count=len(instrument.strings))


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
    variance[layout["saddle_height"]] = shares**2 * (
        HAND_SPREAD_MM**2 + (_own_ratio(picture) * adjustment.mm) ** 2
    )
    return Effect(rows @ picture.mean, rows, variance)


def _own_ratio(picture: Picture) -> float:
    """Return by what share of its movement each screw is unlike the others; a cut is measured as it is made."""
    return 0.0 if picture.board.instrument.bridge.kind == "one-piece" else SCREW_SPREAD_RATIO


def saddle_out_minutes(strings: int) -> float:
    """Return what it takes to have a saddle out: strings slack and back to pitch, the saddle out and in, settled."""
    return minutes_of("saddle-cut") + minutes_of("six-strings-slack") * strings / 6.0 + minutes_of("settle")


def _lever(
    adjustment: SaddleHeight, picture: Picture, travel: tuple[float, float], cost: float, least: float = 0.0
) -> Lever:
    direction = np.zeros(picture.layout.size)
    response = float(picture.mean[picture.layout["saddle_response"][0]])
    direction[picture.layout["saddle_height"]] = _shares(adjustment, picture) * response
    place = (
        tr("string {string}", string=adjustment.string)
        if adjustment.string
        else tr("{post} side", post=POSTS[str(adjustment.post)])
    )
    by_hand = picture.board.instrument.bridge.kind == "one-piece"
    return Lever(
        name=tr("saddle height, {place}", place=place),
        order=KIND.order,
        unit="mm",
        direction=direction,
        low=travel[0],
        high=travel[1],
        step=0.0,
        cost=cost,
        typical=0.25,
        least=least,
        made=lambda mm: [adjustment.model_copy(update={"mm": round(mm, 3)})],
        irreversible=by_hand,
        trip="saddle",
        trip_minutes=saddle_out_minutes(picture.board.string_count) if by_hand else RETUNED_MINUTES,
        least_chance_out=0.25 if by_hand else LIKELY_OUT,
        confirmed=by_hand and adjustment.string is not None,
    )


def _levers(picture: Picture) -> Sequence[Lever]:
    bridge = picture.board.instrument.bridge
    strings = range(1, picture.board.string_count + 1)
    per_string = [SaddleHeight(string=number, mm=0.0) for number in strings]
    posts = [SaddleHeight(post="bass", mm=0.0), SaddleHeight(post="treble", mm=0.0)]
    both_ways = bridge.height_travel_mm or (-LARGEST_MOVE_MM, LARGEST_MOVE_MM)
    if bridge.kind == "two-post":
        return [_lever(one, picture, both_ways, minutes_of("screw")) for one in posts]
    if bridge.kind == "floating":
        # Its two posts carry all of it; a saddle's own screw is for what one string then still wants.
        whole = [
            _lever(one, picture, (-LARGEST_MOVE_MM, LARGEST_MOVE_MM), minutes_of("screw")) for one in posts
        ]
        return whole + [_lever(one, picture, both_ways, minutes_of("screw")) for one in per_string]
    if bridge.kind == "one-piece":
        down = (max(both_ways[0], -LARGEST_MOVE_MM), 0.0)
        whole = [_lever(one, picture, down, CUT_MINUTES, LEAST_CUT_MM) for one in posts]
        shaped = (max(down[0], DEEPEST_SHAPE_MM), 0.0)
        return whole + [_lever(one, picture, shaped, CUT_MINUTES, LEAST_SHAPE_MM) for one in per_string]
    return [_lever(one, picture, both_ways, minutes_of("screw")) for one in per_string]


_RAISED = (
    mark("Raise the {part} at {strings} by {amount}"),
    mark("Raised the {part} at {strings} by {amount}"),
)
_LOWERED = (
    mark("Lower the {part} at {strings} by {amount}"),
    mark("Lowered the {part} at {strings} by {amount}"),
)
_SIDE_RAISED = (
    mark("Raise the {part} at the {post} side by {amount}"),
    mark("Raised the {part} at the {post} side by {amount}"),
)
_SIDE_LOWERED = (
    mark("Lower the {part} at the {post} side by {amount}"),
    mark("Lowered the {part} at the {post} side by {amount}"),
)
_POST_RAISED = (
    mark("Raise the {post} post of the bridge by {amount}"),
    mark("Raised the {post} post of the bridge by {amount}"),
)
_POST_LOWERED = (
    mark("Lower the {post} post of the bridge by {amount}"),
    mark("Lowered the {post} post of the bridge by {amount}"),
)
_CUT = mark("Take {amount} off the {part} at {strings}"), mark("Took {amount} off the {part} at {strings}")
_END_CUT = (
    mark("Take {amount} off the {part} at its {post} end"),
    mark("Took {amount} off the {part} at its {post} end"),
)


def _move(adjustment: SaddleHeight, instrument: Instrument) -> Move:
    up, kind = adjustment.mm > 0, instrument.bridge.kind
    values = {"part": bridge_or_saddle(instrument)}
    if adjustment.string:
        said = _CUT if kind == "one-piece" else _RAISED if up else _LOWERED
        return Move(*said, (adjustment.string,), (abs(adjustment.mm),), values)
    values["post"] = tr(POSTS[str(adjustment.post)])
    if kind == "floating":
        said, values = _POST_RAISED if up else _POST_LOWERED, {"post": values["post"]}
    elif kind == "one-piece":
        said = _END_CUT
    else:
        said = _SIDE_RAISED if up else _SIDE_LOWERED
    return Move(*said, amounts_mm=(abs(adjustment.mm),), values=values)


def _screw(adjustment: SaddleHeight, instrument: Instrument) -> str | None:
    per_turn, kind = instrument.bridge.height_mm_per_turn, instrument.bridge.kind
    post_of_floating = kind == "floating" and adjustment.post is not None
    if per_turn is None or kind == "one-piece" or post_of_floating:
        return None
    return turns_words(abs(adjustment.mm) / per_turn, tr("up") if adjustment.mm > 0 else tr("down"))


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
        return tr("a touch {way}, under 1/16 turn", way=way)
    one, more = mark("{turns} turn {way}"), mark("{turns} turns {way}")
    return tr(more if eighths > 8 else one, turns=" ".join(parts), way=way)


def _dangers(adjustment: SaddleHeight, instrument: Instrument) -> tuple[str, ...]:
    del adjustment
    if instrument.bridge.kind == "one-piece":
        cut = ("wire-under-tension", "filing", "harmful-dust")
        return (*cut, "wood-dust") if stands_loose(instrument) else cut
    if instrument.bridge.kind == "floating":
        return ("wire-under-tension", "spring-load", "posts-under-pull", "tipped-plate")
    return ("wire-under-tension", "wheels-under-pull") if stands_loose(instrument) else ("stiff-screw",)


def _particulars(adjustment: SaddleHeight, instrument: Instrument) -> tuple[str, ...]:
    if instrument.bridge.kind != "one-piece" or adjustment.mm >= -DEEP_CUT_MM:
        return ()
    return (tr(_DEEP_IN_BRIDGE if stands_loose(instrument) else _DEEP_IN_SADDLE, proud_mm=STANDS_PROUD_MM),)


_DEEP_IN_SADDLE = mark(
    "Before cutting, see how far the saddle stands out of its slot: about {proud_mm:.1f} mm must stay for the "
    "strings to bend over. A cut this deep often means that the neck's angle wants a specialist's eye."
)
_DEEP_IN_BRIDGE = mark(
    "Before cutting, see that enough of the bridge stays under its notches. A cut this "
    "deep often means that a lower bridge should stand there, or that the neck's angle "
    "wants a specialist's eye."
)


def _verified_by(adjustment: SaddleHeight, target: Any) -> bool:
    own = adjustment.string in (None, target.string)
    return own and is_gap(target) and not pressed(target)[1]


def _finest(instrument: Instrument) -> float:
    return (instrument.bridge.height_mm_per_turn or 0.4) / 16.0


KIND = AdjustmentKind(
    name="saddle-height",
    words=mark("saddle height"),
    order=20,
    model=SaddleHeight,
    effect=_effect,
    levers=_levers,
    dangers=_dangers,
    particulars=_particulars,
    move=_move,
    screw=_screw,
    verified_by=_verified_by,
    finest=_finest,
)
