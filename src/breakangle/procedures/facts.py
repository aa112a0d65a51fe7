"""What can be told of an instrument without asking: from its file, and what is usual for its family."""

from breakangle.model.instrument import Instrument
from breakangle.procedures.model import STRING_COUNT
from breakangle.reference.families import family_of
from breakangle.reference.strings import make


def usual_facts(instrument: Instrument) -> dict[str, str]:
    """Return the facts the service file tells, and those that are usual for the family.

    The board's face, the instrument's worth and locking tuners are never assumed: they are asked. One string with a
    core of polymer or gut makes a set of nylon: it is untied, not cut over the face.

    Source: common practice for each family, no source.
    """
    usual = family_of(instrument)
    soft = any(make(string.make).soft for string in instrument.strings)
    return {
        "bridge": instrument.bridge.kind,
        "anchor": usual.anchor,
        "head": usual.head,
        "strings": "nylon" if soft else "steel",
        "nut": instrument.nut.kind,
        "rod": "no" if instrument.rod.kind == "none" else "yes",
        "electrics": "yes" if usual.electrics else "no",
        STRING_COUNT: str(len(instrument.strings)),
    }
