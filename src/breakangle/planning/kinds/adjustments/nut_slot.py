"""Nut slot: cut deeper with a file, never the other way. Negative cuts deeper."""

from collections.abc import Sequence
from typing import Annotated, Any, Literal

import numpy as np

from breakangle.model.instrument import Instrument
from breakangle.model.reading import StringAdjustment
from breakangle.model.words.noun import Between
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.kind import AdjustmentKind, Effect, Lever
from breakangle.planning.kinds.move import Move
from breakangle.planning.kinds.readings.gap import is_gap, pressed
from breakangle.planning.state.picture import Picture
from breakangle.reference.minutes import minutes_of

# Where nothing else is said below: common practice, no source.
FINEST_MM = 0.02  # of a slot, by file and feelers; common practice, no source
HAND_SPREAD_MM = 0.01  # filing in small strokes with a reading in between; common practice, no source
DEEPEST_CUT_MM = 0.8
NUT_MINUTES = 2.0  # the strings out of the nut and back, once; common practice, no source


class NutSlot(StringAdjustment):
    """The nut slot of `string` changed by `mm`; negative cuts deeper."""

    adjust: Literal["nut-slot"] = "nut-slot"
    mm: Annotated[float, Between(-3.0, 3.0, "mm")]


def _effect(adjustment: NutSlot, picture: Picture) -> Effect:
    place = picture.layout["nut_height"][adjustment.string - 1]
    mean, variance = picture.mean.copy(), np.zeros(picture.layout.size)
    mean[place] += adjustment.mm
    variance[place] = HAND_SPREAD_MM**2 if adjustment.mm else 0.0
    return Effect(mean, np.eye(picture.layout.size), variance)


def _lever(string: int, picture: Picture) -> Lever:
    direction = np.zeros(picture.layout.size)
    direction[picture.layout["nut_height"][string - 1]] = 1.0
    return Lever(
        name=tr("nut slot, string {string}", string=string),
        order=KIND.order,
        unit="mm",
        direction=direction,
        low=-DEEPEST_CUT_MM,
        high=0.0,
        step=0.0,
        cost=minutes_of("slot"),
        typical=0.1,
        irreversible=True,
        confirmed=True,
        trip="nut",
        trip_minutes=NUT_MINUTES,
        least_chance_out=0.15,
        least=FINEST_MM,
        made=lambda mm: [NutSlot(string=string, mm=round(mm, 3))],
    )


def _levers(picture: Picture) -> Sequence[Lever]:
    instrument = picture.board.instrument
    slotted = instrument.nut.kind == "nut"
    return [_lever(one.string, picture) for one in instrument.in_order() if slotted or one.nut_at_fret]


def _own_nut(adjustment: NutSlot, instrument: Instrument) -> int:
    """Return the fret at which a short string's own nut stands; 0 for a string that starts at the nut of all."""
    return instrument.in_order()[adjustment.string - 1].nut_at_fret


def _move(adjustment: NutSlot, instrument: Instrument) -> Move:
    strings, amount, own = (adjustment.string,), (abs(adjustment.mm),), _own_nut(adjustment, instrument)
    if own:
        return Move(
            mark("Lower {strings} by {amount} at its own nut, at fret {own_nut}"),
            mark("Lowered {strings} by {amount} at its own nut, at fret {own_nut}"),
            strings,
            amount,
            {"own_nut": str(own)},
        )
    return Move(
        mark("Cut the nut slot of {strings} deeper by {amount}"),
        mark("Cut the nut slot of {strings} deeper by {amount}"),
        strings,
        amount,
    )


def _dangers(adjustment: NutSlot, instrument: Instrument) -> tuple[str, ...]:
    cut = ("wire-under-tension", "filing", "harmful-dust")
    return cut if _own_nut(adjustment, instrument) else (*cut, "deep-cut")


def _particulars(adjustment: NutSlot, instrument: Instrument) -> tuple[str, ...]:
    if not _own_nut(adjustment, instrument):
        return ()
    return (
        tr(
            "A slot is filed, a screw turned in, a pip set lower or changed, whichever carries "
            "this string; a little, then read again. The bridge has no part in it."
        ),
    )


def _verified_by(adjustment: NutSlot, target: Any) -> bool:
    return is_gap(target) and target.string == adjustment.string and pressed(target) == (False, True)


KIND = AdjustmentKind(
    name="nut-slot",
    words=mark("nut slot"),
    order=30,
    model=NutSlot,
    effect=_effect,
    levers=_levers,
    dangers=_dangers,
    particulars=_particulars,
    move=_move,
    verified_by=_verified_by,
    finest=lambda instrument: FINEST_MM,
)
