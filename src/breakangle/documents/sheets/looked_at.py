"""What of an instrument is looked at before anything is read: what its family lacks is not printed."""

from breakangle.model.instrument import Instrument
from breakangle.model.words.speech import mark, tr
from breakangle.reference.families import family_of

LOOKED_AT = (
    mark("Frets level, not worn"),
    mark("Board and cracks"),
    mark("Nut and slots"),
    mark("Bridge and saddles"),
    mark("Tuners"),
)
ELECTRICS = mark("Electrics")
ON_A_HEAD = mark("Head, its tension all round; tailpiece; coordinator rods")
OWN_NUT = mark("The short string's own nut")


def looked_at(instrument: Instrument) -> tuple[str, ...]:
    """Return what is looked at on an instrument of this kind: what its family lacks is not printed."""
    kin = family_of(instrument)
    found = [*LOOKED_AT]
    if kin.bridge.on_head:
        found.append(tr(ON_A_HEAD))
    if any(string.nut_at_fret for string in instrument.strings):
        found.append(tr(OWN_NUT))
    return (*found, tr(ELECTRICS)) if kin.electrics else tuple(found)
