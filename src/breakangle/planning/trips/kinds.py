"""The kinds of trip there are, in the order they are made: which adjustments belong to each, and what each asks for."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Slacken
from breakangle.model.reading import Adjustment
from breakangle.planning.kinds.adjustments.bridge_position import BridgePosition
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.rod import EIGHTH_TURNS, RodTurn
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.slot_width import SlotWidth
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.state.bridge_support import stands_loose
from breakangle.reference.minutes import minutes_of

# Chosen: the six strings that minutes are told for.
SIX_STRINGS = 6
AlongTheStrings = SaddlePosition | BridgePosition
AtTheNut = NutSlot | SlotWidth
Moves = Sequence[Adjustment]


def cut_by_hand(instrument: Instrument) -> bool:
    """Return whether heights and crowns of the saddle are cut by hand, so that it is taken out for either."""
    return instrument.bridge.kind == "one-piece" and not stands_loose(instrument)


@dataclass(frozen=True)
class TripKind:
    """One kind of trip: its key, what belongs to it, what is slackened, what lies ready, its minutes without readings.

    `cuts`: it takes away what nobody puts back, so that it is made once; `read_in_hand`: what it is made for is read
    while it is made, without an end to it.
    """

    name: str
    holds: Callable[[Adjustment, Instrument], bool]
    slacken: Callable[[Moves, Instrument], Slacken]
    tools: Callable[[Moves, Instrument], tuple[str, ...]]
    minutes: Callable[[Moves, Instrument], float]
    cuts: bool = False
    read_in_hand: bool = False


def _slack_minutes(instrument: Instrument) -> float:
    """Return what slackening all strings and bringing them back takes, in minutes."""
    return minutes_of("six-strings-slack") * len(instrument.strings) / SIX_STRINGS


def _rod_minutes(moves: Moves, instrument: Instrument) -> float:
    del instrument
    turns = sum(abs(one.turns) for one in moves if isinstance(one, RodTurn))
    return minutes_of("rod-eighth") * turns / EIGHTH_TURNS


def _cut_minutes(moves: Moves, instrument: Instrument) -> float:
    del moves
    return _slack_minutes(instrument) + minutes_of("saddle-cut")


def _height_slacken(moves: Moves, instrument: Instrument) -> Slacken:
    """Return how far strings are slackened before heights are turned: where the bridge stands free, first of all.

    Common practice, no source.
    """
    del moves
    return "a-little" if instrument.bridge.kind == "floating" or stands_loose(instrument) else "no"


def _height_minutes(moves: Moves, instrument: Instrument) -> float:
    slack = 0.0 if _height_slacken(moves, instrument) == "no" else _slack_minutes(instrument)
    return slack + minutes_of("screw") * len(moves)


def _pitch_minutes(moves: Moves, instrument: Instrument) -> float:
    del instrument
    settle = minutes_of("settle") if any(isinstance(one, Tune) for one in moves) else 0.0
    return settle + minutes_of("screw") * sum(isinstance(one, AlongTheStrings) for one in moves)


def _pitch_slacken(moves: Moves, instrument: Instrument) -> Slacken:
    del instrument
    return "a-little" if any(isinstance(one, AlongTheStrings) for one in moves) else "no"


def _pitch_tools(moves: Moves, instrument: Instrument) -> tuple[str, ...]:
    moved = any(isinstance(one, AlongTheStrings) for one in moves)
    return ("tuner", *(("bridge-key",) if moved and not stands_loose(instrument) else ()))


def _at_saddle(one: Adjustment, instrument: Instrument) -> bool:
    return cut_by_hand(instrument) and isinstance(one, SaddleHeight | SaddlePosition)


KINDS = (
    TripKind(
        name="at-pitch",
        # What the maker alone decides (a shim, new strings) comes before all else, as the rod does.
        holds=lambda one, instrument: not isinstance(one, SaddleHeight | AlongTheStrings | AtTheNut | Tune),
        slacken=lambda moves, instrument: "no",
        tools=lambda moves, instrument: ("rod-key", "feelers", "tuner"),
        minutes=_rod_minutes,
    ),
    TripKind(
        name="saddle-out",
        holds=_at_saddle,
        slacken=lambda moves, instrument: "fully",
        tools=lambda moves, instrument: (
            "winder",
            "caliper",
            "pencil",
            *(("flat-abrasive",) if any(isinstance(one, SaddleHeight) for one in moves) else ()),
            *(("saddle-file",) if any(getattr(one, "string", None) for one in moves) else ()),
            "mask",
        ),
        minutes=_cut_minutes,
        cuts=True,
    ),
    TripKind(
        name="bridge-heights",
        holds=lambda one, instrument: isinstance(one, SaddleHeight),
        slacken=_height_slacken,
        tools=lambda moves, instrument: (*(() if stands_loose(instrument) else ("bridge-key",)), "rule"),
        minutes=_height_minutes,
    ),
    TripKind(
        name="nut",
        holds=lambda one, instrument: isinstance(one, AtTheNut),
        slacken=lambda moves, instrument: "a-little",
        tools=lambda moves, instrument: ("nut-files", "feelers", "mask"),
        minutes=lambda moves, instrument: minutes_of("slot") * len(moves),
        cuts=True,
        read_in_hand=True,
    ),
    TripKind(
        name="to-pitch",
        holds=lambda one, instrument: True,
        slacken=_pitch_slacken,
        tools=_pitch_tools,
        minutes=_pitch_minutes,
    ),
)


def trip_kind(adjustment: Adjustment, instrument: Instrument) -> TripKind:
    """Return the kind of trip that `adjustment` belongs to on this instrument."""
    return next(kind for kind in KINDS if kind.holds(adjustment, instrument))
