"""What a screw sets is set once: again only after a reading that came out otherwise than expected, or reads outside.

A screw can be put back, so one figure near its edge is no reason by itself: it would bring the strings to pitch, let
them settle and have all that moved with it read once more, for a figure that was read inside, as was expected.
"""

from dataclasses import replace

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.planning.estimate.reading_state import times_read
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.solve.decide import Decision
from breakangle.planning.state.expected_minutes import chance_out
from breakangle.planning.trips.again import Again, last_read_outside, served, unexpected
from breakangle.planning.trips.kinds import KINDS, TripKind, trip_kind
from breakangle.reference.messages import words

KEPT_SET = "trips.kept_set"
# Chance of being outside from which a screw is set once more, and all read again; common practice, no source.
AGAIN_FROM = 0.15


def set_again(service: Service, sight: Sight, decision: Decision) -> Again:
    """Return which screws of the decision are not to be set again, and why the others of their trip are.

    Spared is what has been read since its trip, inside its tolerance and as was expected.
    """
    spared: list[Adjustment] = []
    messages: list[Message] = []
    for kind in KINDS:
        last = _last_set(service, kind)
        moves = [
            move
            for lever, amount in decision.moves
            for move in lever.made(amount)
            if _is_set(move, service.instrument, kind)
        ]
        if not last or not moves or not any(one.after >= last for one in service.readings):
            continue
        thing = words(Message(key=f"trips.thing_{kind.name}"))
        odd = next(unexpected(service, last, moves), None)
        if odd is not None:
            messages.append(Message(key="trips.set_again", values={"thing": thing, **odd.figures}))
            continue
        then = _after_the_rest(service, sight, decision, kind)
        kept = [one for one in moves if _stands(one, service, then)]
        spared += kept
        messages += [Message(key=KEPT_SET, values={"thing": thing})] if kept == moves else []
    return Again(tuple(spared), tuple(messages))


def _is_set(move: Adjustment, instrument: Instrument, kind: TripKind) -> bool:
    """Return whether a screw makes this adjustment, in a trip of this kind."""
    by_screw = isinstance(move, SaddleHeight | SaddlePosition) and not kind.cuts
    return by_screw and trip_kind(move, instrument) is kind


def _last_set(service: Service, kind: TripKind) -> int:
    """Return after how much work the last screw of this kind of trip had been set; 0 where none was."""
    done = enumerate(service.work, start=1)
    return max((place for place, one in done if _is_set(one, service.instrument, kind)), default=0)


def _after_the_rest(service: Service, sight: Sight, decision: Decision, kind: TripKind) -> Sight:
    """Return the targets as all else of the decision leaves them: a turn of the rod may want heights set once more."""
    off = sight.off.copy()
    for lever, amount in decision.moves:
        if not any(_is_set(one, service.instrument, kind) for one in lever.made(amount)):
            off += amount * (sight.rows @ lever.direction)
    return replace(sight, off=off)


def _stands(move: Adjustment, service: Service, sight: Sight) -> bool:
    """Return whether all that a screw is set for was read inside since it was moved, and is likely to be inside."""
    own = served([move], sight)
    read = (times_read(service, sight) > 0) & ~last_read_outside(service, sight)
    near = chance_out(sight.off, sight.tolerance, sight.spread) < AGAIN_FROM
    return bool(np.all((near & read)[own]))
