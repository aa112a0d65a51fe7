"""Bridges that stand loose on the top, held by nothing but the strings: slid as a whole, not screwed or shaped."""

from breakangle.model.instrument import Instrument
from breakangle.model.words.speech import mark, tr
from breakangle.reference.families import family_of

POSTS = {
    "bass": mark("bass"),
    "treble": mark("treble"),
}  # the sides of a bridge as an adjustment names them, in words


def stands_loose(instrument: Instrument) -> bool:
    """Return whether the bridge stands loose on the top, as its family's do; not one with screws for its position."""
    return family_of(instrument).bridge.stands_loose and instrument.bridge.position_mm_per_turn is None


def bridge_or_saddle(instrument: Instrument) -> str:
    """Return what is raised and lowered, in words."""
    return tr("bridge") if stands_loose(instrument) else tr("saddle")
