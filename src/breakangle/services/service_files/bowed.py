"""What stands in the way of a lower set-up: what a plan found, and a neck that stays bowed too far."""

import numpy as np

from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.planning.buzz.set_up import present
from breakangle.planning.buzz.try_out import as_it_is
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.solve.lever_limits import FAR_OUT, FAR_OUT_NO_ROD
from breakangle.planning.verdict.judgement import Judgement
from breakangle.planning.verdict.said import in_the_way


def lower_later(found: Judgement, reach: tuple[float, float] | None) -> tuple[Message, ...]:
    """Return what stands in the way of a lower set-up: what was found, and a neck that stays bowed too far.

    By the same limits at which a plan cuts no saddle; `reach`: what its rod can give, where there is one.
    """
    too_far = bowed(found, reach)
    return in_the_way(found) if too_far is None else (*in_the_way(found), too_far)


def bowed(found: Judgement, reach: tuple[float, float] | None) -> Message | None:
    """Return that the neck stays bowed too far for a saddle of one piece to be cut, where it does."""
    wanted = relief_wanted(found.service, found.now)
    instrument = found.now.board.instrument
    no_rod = instrument.rod.kind == "none"
    reads_mm = as_it_is(found.now).relief_mm if no_rod else None
    if reach is not None:
        reads_mm = reach[0] + reads_more_mm(found.now)
    if instrument.bridge.kind != "one-piece" or reads_mm is None or wanted is None:
        return None
    if reads_mm <= wanted[0] + (FAR_OUT_NO_ROD if no_rod else FAR_OUT) * wanted[1]:
        return None
    if no_rod:
        values = {"relief_mm": reads_mm, "wanted_mm": wanted[0]}
        return Message(key="verdict.bowed_no_rod", values=values, severity="care")
    values = {"least_mm": reads_mm, "wanted_mm": wanted[0]}
    return Message(key="verdict.bowed_past_rod", values=values, severity="care")


def relief_wanted(service: Service, now: Estimate) -> tuple[float, float] | None:
    """Return the relief that is wanted and its tolerance, mm; None where none is."""
    wanted = [
        one
        for one in targets_of(service, now.board).wanted
        if isinstance(one, GapTarget) and trade_name(one) == "relief"
    ]
    if not wanted:
        return None
    return float(np.mean([one.mm for one in wanted])), min(one.tolerance_mm for one in wanted)


def reads_more_mm(now: Estimate) -> float:
    """Return how much more a relief reads, at the fret where the trade reads it, than the sag of the neck alone."""
    reads = as_it_is(now).relief_mm
    return 0.0 if reads is None else reads - present(now.picture).relief_mm
