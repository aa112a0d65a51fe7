"""What new strings ask of the plan: nothing is moved that was not read since, and a slot too narrow is widened."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.restring import Restring
from breakangle.planning.kinds.adjustments.slot_width import SlotWidth, slot_width_lever
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.readings.gap import Gap, pressed
from breakangle.planning.kinds.restrung import SLOT_WIDER_MM, put_on
from breakangle.planning.kinds.targets.gap import GapTarget
from breakangle.planning.state.uncertain_value import Known
from breakangle.planning.swap.forecast import chance_above

LIKELY = 0.5  # that a string does not go into its slot: from there on it is taken to ride on its edges; common practice


def riding(service: Service) -> frozenset[int]:
    """Return the strings that are probably too thick for their nut slots, by what has gone on and been filed since."""
    instrument, found = service.instrument, set[int]()
    widths = {one.string: _wider(one.diameter_mm) for one in instrument.strings}
    if instrument.nut.kind != "nut":
        return frozenset()
    for done in service.work:
        if isinstance(done, Restring):
            told, old = done.widths_mm(), {one.string: one for one in instrument.strings}
            widths |= told
            for one in done.strings:
                if one.string not in put_on(instrument, done.strings):
                    continue
                thicker = one.string in told or one.diameter_mm > old[one.string].diameter_mm
                binds = 1.0 - chance_above(widths[one.string], one.diameter_mm)
                if thicker and binds >= LIKELY:
                    found.add(one.string)
                elif one.diameter_mm < old[one.string].diameter_mm:
                    found.discard(one.string)
        instrument = done.changed_instrument(instrument)
        if isinstance(done, SlotWidth | NutSlot):
            found.discard(done.string)
            widths[done.string] = _wider(instrument.in_order()[done.string - 1].diameter_mm)
    return frozenset(found)


def _wider(diameter_mm: float) -> Known:
    return Known(diameter_mm + SLOT_WIDER_MM.value, SLOT_WIDER_MM.uncertainty)


def slots_widened(service: Service, now: Estimate, levers: Sequence[Lever]) -> list[Lever]:
    """Return the levers; a slot in which a string rides on the edges is widened instead of cut deeper."""
    thick, found = riding(service), []
    for lever in levers:
        made = lever.trial
        wide = isinstance(made, NutSlot) and made.string in thick
        found.append(slot_width_lever(made.string, now.picture) if wide else lever)  # type: ignore[attr-defined]
    return found


def unread_since_strings(service: Service, targets: Sequence[Target]) -> NDArray[np.bool_]:
    """Return which targets have not been read since other strings went on, or were tuned otherwise, (T,)."""
    strung = [place for place, one in enumerate(service.work, start=1) if isinstance(one, Restring)]
    if not strung:
        return np.zeros(len(targets), dtype=bool)
    read = {_about(one) for one in service.readings if one.after >= strung[-1]}
    return np.array([_about(one) not in read for one in targets], dtype=bool)


def _about(one: Reading | Target) -> tuple[object, ...]:
    """Return what a reading or a target is about; relief of one string speaks for the neck."""
    if not isinstance(one, Gap | GapTarget):
        return ("pitch", one.string, min(one.fret, 1))
    behind, beyond = pressed(one)
    return ("relief",) if behind and beyond else ("nut" if beyond else "action", one.string)
