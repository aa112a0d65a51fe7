"""Where to stop and read before a cut is finished: part of the way, since what is cut away nobody puts back."""

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Plan, Step
from breakangle.model.words.message import Message
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.rounding import SHAPED_MM
from breakangle.planning.trips.kinds import cut_by_hand
from breakangle.reference.messages import words

PART = 2.0 / 3.0  # of a cut, before it is read; common practice, no source
LEAST_SLOT_MM, LEAST_SADDLE_MM = 0.06, 0.25  # less is one stroke or two; common practice, no source


def part_way(step: Step, plan: Plan, instrument: Instrument) -> str:
    """Return in words where to stop a cut and what it should then read; empty where nothing is cut, or too little."""
    cut = step.adjustment
    if isinstance(cut, NutSlot) and cut.mm <= -LEAST_SLOT_MM:
        return _slot(cut, step, plan)
    if isinstance(cut, SaddleHeight) and cut.mm <= -LEAST_SADDLE_MM and cut_by_hand(instrument):
        part_mm = SHAPED_MM * round(PART * abs(cut.mm) / SHAPED_MM)
        return words(Message(key="trips.part_way_saddle", values={"part_mm": part_mm}))
    return ""


def _slot(cut: NutSlot, step: Step, plan: Plan) -> str:
    """Return where to stop at a slot: its clearance falls as the slot does, so part of the way is told by it."""
    after = next((one for one in step.expect if isinstance(one, Gap) and one.string == cut.string), None)
    if after is None:
        return ""
    same = (after.string, after.fret, after.held)
    before = next(
        (
            one
            for one in plan.now.readings
            if isinstance(one, Gap) and (one.string, one.fret, one.held) == same
        ),
        None,
    )
    if before is None or before.mm <= after.mm:
        return ""
    reads = before.mm + PART * (after.mm - before.mm)
    return words(
        Message(key="trips.part_way_slot", values={"part_mm": PART * abs(cut.mm), "reads_mm": reads})
    )
