"""A wanted gap: relief, action and first-fret clearance are all this, held and read in their own ways."""

from collections.abc import Iterator
from typing import Annotated, Literal

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Reading, Target
from breakangle.model.words.noun import Between
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.kind import TargetKind
from breakangle.planning.kinds.readings.gap import (
    Gap,
    HeldFrets,
    held_misfits,
    predict,
    predict_chord,
    predict_straight,
    pressed,
)
from breakangle.planning.state.bridge_support import stands_loose


class GapTarget(HeldFrets, Target):
    """A gap wanted at `fret` of `string` with the frets in `held` pressed, in mm."""

    quantity: Literal["gap"] = "gap"
    fret: Annotated[int, Between(1, 36, "", whole=True)]
    mm: Annotated[float, Between(0.0, 10.0, "mm")]
    tolerance_mm: Annotated[float, Between(0.01, 2.0, "mm")] = 0.1

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have, held frets included."""
        yield from super().misfits(instrument)
        yield from held_misfits(self, instrument)


# What the trade calls a gap, and a note: keys, and said by their words.
TRADE_NAMES = mark("relief"), mark("nut clearance"), mark("action"), mark("intonation")


def trade_name(target: HeldFrets) -> str:
    """Return what the trade calls this gap: relief, nut clearance or action."""
    behind, beyond = pressed(target)
    if beyond:
        return "relief" if behind else "nut clearance"
    return "action"


def is_relief(target: Target) -> bool:
    """Return whether `target` is the bow of the neck, which the rod is turned for."""
    return isinstance(target, GapTarget) and trade_name(target) == "relief"


def own_nut(target: GapTarget, instrument: Instrument) -> int:
    """Return the fret at which the nut of the target's own string stands; 0 where it is the nut of all."""
    return instrument.in_order()[target.string - 1].nut_at_fret


def _said_of(target: GapTarget, instrument: Instrument, strings: str) -> str:
    name = trade_name(target)
    if name == "nut clearance" and own_nut(target, instrument):
        name = tr("clearance past its own nut")
    elif name == "nut clearance" and instrument.nut.kind == "zero-fret":
        name = tr("clearance past the zero fret")
    return tr("{name} at {strings}", name=tr(name), strings=strings)


def _as_reading(target: GapTarget, value: float, spread: float) -> Reading:
    return Gap(
        string=target.string,
        fret=target.fret,
        held=target.held,
        mm=round(min(max(value, 0.0), 15.0), 3),
        uncertainty_mm=round(max(spread, 0.001), 3),
    )


_BEYOND = {
    ("relief", True): mark(
        "the rod cannot let the neck bow far enough: loosened fully and still too straight"
    ),
    ("relief", False): mark("the rod cannot straighten the neck this far: it needs a specialist's eye"),
    ("action", True): mark("the bridge cannot rise far enough: taller saddles, or another neck angle"),
    ("action", False): mark(
        "the bridge cannot come down far enough: the neck's angle wants a shim or a reset"
    ),
    ("nut clearance", True): mark("the slot is too deep and cannot be filed up: fill it or fit a new nut"),
    ("nut clearance", False): mark("the slot cannot be cut this deep: look at the nut and the first frets"),
}

# A saddle of one piece cannot rise, and sits on instruments whose necks are mostly glued.
_ONE_PIECE = {
    True: mark("the saddle cannot rise: a taller saddle first, then the rest"),
    False: mark("the saddle cannot come down so far: the neck's angle wants a specialist's eye"),
}
# A bridge that stands loose on the top is changed for another, or cut at its feet or its top.
_LOOSE = {
    True: mark("the bridge cannot rise far enough: a taller bridge first, then the rest"),
    False: mark(
        "the bridge cannot come down so far: a lower bridge, or the neck's angle wants a specialist's eye"
    ),
}
_ZERO_FRET = {
    True: mark("the zero fret is worn: a new one, or the frets levelled to it"),
    False: mark("the zero fret stands too high: it wants levelling with the others, not a file in a slot"),
}
_OWN_NUT = {
    True: mark("its own nut stands too low: a higher one, or its slot filled"),
    False: mark("its own nut cannot come down so far: a lower one, and nothing at the bridge"),
}
_NO_ROD = mark("this neck has no rod: what bends it is a specialist's work")


def _beyond(target: GapTarget, low: bool, instrument: Instrument) -> str:
    """Return what putting this right would take."""
    name = trade_name(target)
    if name == "relief" and instrument.rod.kind == "none":
        return tr(_NO_ROD)
    if name == "nut clearance" and own_nut(target, instrument):
        return tr(_OWN_NUT[low])
    if name == "nut clearance" and instrument.nut.kind == "zero-fret":
        return tr(_ZERO_FRET[low])
    if name == "action" and stands_loose(instrument):
        return tr(_LOOSE[low])
    if name == "action" and instrument.bridge.kind == "one-piece":
        return tr(_ONE_PIECE[low])
    return tr(_BEYOND[name, low])


# Of a string that lies on crowns work is reckoned by where it would be if it were straight.
_AIMED = {"relief": predict_straight, "action": predict_chord}

KIND = TargetKind(
    name="gap",
    said_of=_said_of,
    unit="mm",
    decimals=2,
    model=GapTarget,
    wanted=lambda target: float(target.mm),
    tolerance=lambda target: float(target.tolerance_mm),
    predict=predict,
    as_reading=_as_reading,
    role=lambda target: (trade_name(target), target.string),
    beyond=_beyond,
    aimed=lambda target: _AIMED.get(trade_name(target)),
)
