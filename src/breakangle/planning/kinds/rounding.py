"""Amounts as hand and tool can set them, so that one value is shown, asked for and reckoned with."""

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment
from breakangle.planning.kinds.adjustments.bridge_position import BridgePosition
from breakangle.planning.kinds.adjustments.nut_slot import NutSlot
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition, shaped_by_hand
from breakangle.planning.kinds.adjustments.slot_width import SlotWidth
from breakangle.planning.state.bridge_support import stands_loose

# Where nothing else is said below: common practice, no source.
# What a hand sets and a gauge tells, in mm; common practice, no source.
CUT_MM, SHAPED_MM, SLOT_MM, CROWN_MM, SLID_MM = 0.1, 0.05, 0.01, 0.1, 0.1
# Chosen: turns are told in eighths.
EIGHTHS = 8
USUAL_HEIGHT_MM_PER_TURN, USUAL_POSITION_MM_PER_TURN = 0.4, 0.6
# Chosen: rounding.
_DECIMALS = 6
_IN_MM = NutSlot | SlotWidth | SaddleHeight | SaddlePosition | BridgePosition


def step_mm(adjustment: Adjustment, instrument: Instrument) -> float | None:
    """Return the steps in which a hand sets this adjuster, in mm; None where it is not set in mm."""
    bridge = instrument.bridge
    if isinstance(adjustment, NutSlot | SlotWidth):
        return SLOT_MM
    if isinstance(adjustment, BridgePosition):
        return SLID_MM
    if isinstance(adjustment, SaddleHeight):
        if bridge.kind == "one-piece" and not stands_loose(instrument):
            return CUT_MM if adjustment.post else SHAPED_MM
        return (bridge.height_mm_per_turn or USUAL_HEIGHT_MM_PER_TURN) / EIGHTHS
    if isinstance(adjustment, SaddlePosition):
        if shaped_by_hand(instrument):
            return CROWN_MM
        return (bridge.position_mm_per_turn or USUAL_POSITION_MM_PER_TURN) / EIGHTHS
    return None


def rounded_amount(adjustment: Adjustment, instrument: Instrument) -> Adjustment | None:
    """Return the adjustment by an amount that hand and tool can set; None where that is nothing at all.

    A whole saddle is sanded to a tenth of a millimetre, one string's place on it to a twentieth, a slot filed to a
    hundredth; a screw is turned by eighths, and its amount in mm is that many eighths of its thread.
    """
    step = step_mm(adjustment, instrument)
    if step is None or not isinstance(adjustment, _IN_MM):
        return adjustment
    count = round(adjustment.mm / step)
    return adjustment.model_copy(update={"mm": round(count * step, _DECIMALS)}) if count else None
