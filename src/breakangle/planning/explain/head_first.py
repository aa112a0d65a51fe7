"""A bridge on a stretched head stands as high as the head carries it: the head is seen to before a bridge is cut."""

from collections.abc import Sequence

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Step
from breakangle.model.words.message import Message
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.reference.families import family
from breakangle.reference.messages import words


def head_first(instrument: Instrument, steps: Sequence[Step]) -> list[str]:
    """Return what to look at before a bridge is cut that stands on a head; empty where no step cuts one."""
    if not family(instrument.kind).bridge.on_head:
        return []
    cut = [
        one.adjustment
        for one in steps
        if isinstance(one.adjustment, SaddleHeight) and one.adjustment.mm < 0.0
    ]
    if not cut or instrument.bridge.kind != "one-piece":
        return []
    return [words(Message(key="targets.head_first", about=("bridge", "head"), severity="care"))]
