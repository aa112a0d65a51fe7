"""A bridge on a stretched head stands as high as the head carries it: the head is seen to before a bridge is cut."""

from collections.abc import Sequence

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Note, Step
from breakangle.model.words.message import Message
from breakangle.planning.kinds.adjustments.saddle_height import KIND as SADDLE_HEIGHT
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.reference.families import family_of
from breakangle.reference.messages import noted


def head_first(
    instrument: Instrument, steps: Sequence[Step], held_back: Sequence[str] = (), too_low: bool = False
) -> list[Note]:
    """Return what to look at before a bridge is cut that stands on a head, or a taller one made; empty on any other.

    `held_back`: the keys of adjusters that a pattern keeps from being moved: a bridge that is too high for its neck
    stands on the same head. `too_low`: whether strings stay low because the bridge cannot rise.
    """
    if not family_of(instrument).bridge.on_head:
        return []
    if too_low:
        return [noted(Message(key="targets.head_slack", about=("bridge", "head"), severity="care"))]
    cut = [
        one.adjustment
        for one in steps
        if isinstance(one.adjustment, SaddleHeight) and one.adjustment.mm < 0.0
    ]
    waits = any(one.partition("_")[0] == SADDLE_HEIGHT.name for one in held_back)
    if not (cut or waits) or instrument.bridge.kind != "one-piece":
        return []
    return [noted(Message(key="targets.head_first", about=("bridge", "head"), severity="care"))]
