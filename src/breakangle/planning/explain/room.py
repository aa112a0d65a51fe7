"""What is said of the air that a thin top is read in: air far from usual moves it, and it moves back."""

from breakangle.model.instrument import Instrument
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.reference.families import family_of

# Outside of this a top and its braces are not as they are in the air they should live in; common practice, no source.
DRIEST_PERCENT, DAMPEST_PERCENT = 35.0, 65.0


def room_messages(service: Service, instrument: Instrument) -> tuple[Message, ...]:
    """Return what to do about the room before wood is cut for what is read in it; empty where the air is usual."""
    percent = None if service.room is None else service.room.humidity_percent
    if percent is None or not family_of(instrument).bridge.on_top:
        return ()
    if DRIEST_PERCENT <= percent <= DAMPEST_PERCENT:
        return ()
    key = "effects.room_dry" if percent < DRIEST_PERCENT else "effects.room_damp"
    return (Message(key=key, values={"percent": percent}, about=("room",), severity="care"),)
