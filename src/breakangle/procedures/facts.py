"""What can be told of an instrument without asking: from its file, and what is usual for its family."""

from breakangle.model.instrument import Instrument

SOFT = ("plain-nylon", "wound-nylon", "fluorocarbon", "gut")
TIED, PINNED = ("nylon-acoustic-guitar", "ukulele"), ("steel-acoustic-guitar", "twelve-string-guitar")
SLOTTED_HEADS = ("nylon-acoustic-guitar",)
ELECTRIC = ("electric-guitar", "bass-")


def usual_facts(instrument: Instrument) -> dict[str, str]:
    """Return the facts the service file tells, and those that are usual for the family.

    The board's face, the instrument's worth and locking tuners are never assumed: they are asked.

    Source: common practice for each family, no source.
    """
    kind = instrument.kind
    soft = any(one.make in SOFT for one in instrument.strings)
    return {
        "bridge": instrument.bridge.kind,
        "anchor": "tied" if kind.startswith(TIED) else "pins" if kind.startswith(PINNED) else "ball",
        "head": "slotted" if kind.startswith(SLOTTED_HEADS) else "plain",
        "strings": "nylon" if soft else "steel",
        "nut": instrument.nut.kind,
        "rod": "no" if instrument.rod.kind == "none" else "yes",
        "electrics": "yes" if kind.startswith(ELECTRIC) else "no",
    }
