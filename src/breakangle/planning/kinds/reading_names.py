"""A reading named as the trade says it: the quantity first, then the string and where it is read."""

from breakangle.model.reading import Reading
from breakangle.model.words.speech import capital, tr
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.kinds.targets.gap import trade_name


def reading_named(reading: Reading) -> str:
    """Return a reading in words, what is read first: `action, string 1, fret 12 with fret 1 held`."""
    if isinstance(reading, Gap):
        return tr(
            "{trade_name}, string {string}, fret {fret} {held}",
            trade_name=tr(trade_name(reading)),
            string=reading.string,
            fret=reading.fret,
            held=_held(reading),
        )
    kind = reading_kind(reading)
    return f"{tr('pitch') if isinstance(reading, Pitch) else kind.words}, {kind.place(reading)}"


def sort_named(reading: Reading) -> str:
    """Return what is read and where along the string, of whichever string: `Action, fret 12 with fret 1 held`."""
    if not isinstance(reading, Gap):
        kind = reading_kind(reading)
        name = tr("pitch") if isinstance(reading, Pitch) else kind.words
        return capital(f"{name}, {kind.along(reading)}")
    named = tr(
        "{trade_name}, fret {fret} {held}",
        trade_name=tr(trade_name(reading)),
        fret=reading.fret,
        held=_held(reading),
    )
    return capital(named)


def _held(reading: Gap) -> str:
    if not reading.held:
        return tr("of the open string")
    frets = tr("fret") if len(reading.held) == 1 else tr("frets")
    return tr("with {frets} {str} held", frets=frets, str=tr(" and ").join(map(str, reading.held)))


def begun_with(reading: Reading) -> str:
    """Return a reading in words, as a sentence begins with it: `Action, string 1, fret 12 with fret 1 held`."""
    return capital(reading_named(reading))
