"""What of an instrument is looked at before anything is read: what its family lacks is not printed."""

from breakangle.model.instrument import Instrument
from breakangle.reference.families import family

LOOKED_AT = (
    "Frets level, not worn",
    "Board and cracks",
    "Nut and slots",
    "Bridge and saddles",
    "Tuners",
)
ELECTRICS = "Electrics"
ON_A_HEAD = "Head, its tension all round; tailpiece; coordinator rods"
OWN_NUT = "The short string's own nut"


def looked_at(instrument: Instrument) -> tuple[str, ...]:
    """Return what is looked at on an instrument of this kind: what its family lacks is not printed."""
    kin = family(instrument.kind)
    found = [*LOOKED_AT]
    if kin.bridge.on_head:
        found.append(ON_A_HEAD)
    if any(string.nut_at_fret for string in instrument.strings):
        found.append(OWN_NUT)
    return (*found, ELECTRICS) if kin.electrics else tuple(found)
