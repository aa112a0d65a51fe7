"""Bridge position: a bridge that stands loose slid as a whole, or turned by one end. Away from the nut is positive."""

from collections.abc import Sequence
from typing import Annotated, Any, Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.words.noun import Between
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.kind import AdjustmentKind, Effect, Lever
from breakangle.planning.kinds.move import Move
from breakangle.planning.state.bridge_support import POSTS, stands_loose
from breakangle.planning.state.expected_minutes import LIKELY_OUT
from breakangle.planning.state.picture import Picture

# Where nothing else is said below: common practice, no source.
# Common practice, no source.
HAND_SPREAD_MM = 0.15  # a bridge slid by eye against a mark
SLACK_MINUTES, SLIDE_MINUTES = 2.0, 0.5  # strings a little slack and back, once; slid against a mark
FINEST_MM = 0.3  # less is not set by eye against a mark
FARTHEST_SLIDE_MM, FARTHEST_TURN_MM = 12.0, 4.0


class BridgePosition(Adjustment):
    """The whole bridge moved by `mm`, or with `post` that end of it alone; positive away from the nut."""

    adjust: Literal["bridge-position"] = "bridge-position"
    post: Literal["bass", "treble"] | None = None
    mm: Annotated[float, Between(-30.0, 30.0, "mm")]

    def format_number(self) -> int:
        """Return the number of the service file's form that has this kind."""
        return 2


def _shares(adjustment: BridgePosition, picture: Picture) -> NDArray[np.float64]:
    """Return how far the bridge moves under each string per mm, shape (S,)."""
    if adjustment.post is None:
        return np.ones(picture.board.string_count)
    side = 1.0 if adjustment.post == "treble" else -1.0
    return np.asarray(0.5 * (1.0 + side * picture.board.side_ratio))


def _effect(adjustment: BridgePosition, picture: Picture) -> Effect:
    places, shares = picture.layout["saddle_setback"], _shares(adjustment, picture)
    mean, variance = picture.mean.copy(), np.zeros(picture.layout.size)
    mean[places] += adjustment.mm * shares
    if adjustment.mm:
        variance[places] = (HAND_SPREAD_MM * shares) ** 2
    return Effect(mean, np.eye(picture.layout.size), variance)


def _lever(adjustment: BridgePosition, picture: Picture, farthest_mm: float) -> Lever:
    direction = np.zeros(picture.layout.size)
    direction[picture.layout["saddle_setback"]] = _shares(adjustment, picture)
    return Lever(
        name=tr("bridge position, {post}", post=POSTS[adjustment.post] if adjustment.post else tr("whole")),
        order=KIND.order,
        unit="mm",
        direction=direction,
        low=-farthest_mm,
        high=farthest_mm,
        step=0.0,
        cost=SLIDE_MINUTES,
        typical=1.0,
        least=FINEST_MM,
        trip="slide",
        trip_minutes=SLACK_MINUTES,
        least_chance_out=LIKELY_OUT,
        made=lambda mm: [adjustment.model_copy(update={"mm": round(mm, 2)})],
    )


def _levers(picture: Picture) -> Sequence[Lever]:
    if not stands_loose(picture.board.instrument):
        return []
    ends = [
        _lever(BridgePosition(post=post, mm=0.0), picture, FARTHEST_TURN_MM) for post in ("bass", "treble")
    ]
    return [_lever(BridgePosition(mm=0.0), picture, FARTHEST_SLIDE_MM), *ends]


def _move(adjustment: BridgePosition, instrument: Instrument) -> Move:
    del instrument
    values = {"way": tr("away from") if adjustment.mm > 0 else tr("toward")}
    amount = (abs(adjustment.mm),)
    if adjustment.post is None:
        return Move(
            mark("Slide the whole bridge {amount} {way} the nut"),
            mark("Slid the whole bridge {amount} {way} the nut"),
            amounts_mm=amount,
            values=values,
        )
    return Move(
        mark("Turn the bridge, its {post} end {amount} {way} the nut"),
        mark("Turned the bridge, its {post} end {amount} {way} the nut"),
        amounts_mm=amount,
        values=values | {"post": tr(POSTS[adjustment.post])},
    )


def _dangers(adjustment: BridgePosition, instrument: Instrument) -> tuple[str, ...]:
    del adjustment, instrument
    return ("loose-bridge", "wire-under-tension")


def _verified_by(adjustment: BridgePosition, target: Any) -> bool:
    del adjustment
    return bool(target.quantity == "intonation")


KIND = AdjustmentKind(
    name="bridge-position",
    words=mark("bridge position"),
    order=45,
    model=BridgePosition,
    effect=_effect,
    levers=_levers,
    dangers=_dangers,
    move=_move,
    verified_by=_verified_by,
    finest=lambda instrument: FINEST_MM,
)
