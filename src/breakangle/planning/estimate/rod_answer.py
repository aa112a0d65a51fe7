"""How this neck's rod answers: relief per turn as known now, and whether it may be turned on trust."""

import numpy as np

from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.readings.gap import Gap, predict
from breakangle.reference.families import family_of

# After so many turns in a service, a rod that gives less than this share of its family's is not turned on.
TURNS_TO_TELL, HARDLY_RATIO = 0.5, 0.25  # common practice, no source
# Of the first turn some may have been play, so that one that answered the wrong way leaves its rod near nothing: that
# it answers the right way is then less sure than 7 in 10. Chosen.
HALF_SPREAD = 0.5
OTHER_WAY = mark(
    "The rod answered the other way: relief rose when it was tightened, or fell when it "
    "was loosened. See which way it was turned, correct that step, and read relief again "
    "before turning it on."
)
HARDLY = mark(
    "The rod hardly answers: it may be slack, seized or at its stop. Do not force it; if "
    "another quarter by hand meets no resistance and moves nothing either, it is a "
    "specialist's work."
)


def relief_per_turn_mm(now: Estimate) -> tuple[float, float] | None:
    """Return relief per whole turn of tightening and its standard uncertainty, mm; None without a rod."""
    layout, belief, instrument = now.picture.layout, now.belief, now.board.instrument
    joint = instrument.joint_fret
    if instrument.rod.kind == "none" or joint <= 3:
        return None
    full_length = (one.string for one in reversed(instrument.in_order()) if one.nut_at_fret == 0)
    middle = Gap(string=next(full_length, 1), fret=max(joint // 2, 2), held=(1, joint), mm=0.0)
    full = np.zeros(layout.size)
    full[layout["rod"]] = predict([middle], now.picture).rows[0][layout["neck"]]
    return float(full @ belief.mean), float(belief.spread(full))


def _seen_since(service: Service) -> bool:
    """Return whether any relief has been read since the rod was first turned that tells how far the neck moved.

    Nothing stands for anything below a hair: of a neck bent back, turns are not seen until it reads something.
    """
    first = next(place for place, one in enumerate(service.work, start=1) if isinstance(one, RodTurn))
    return any(one.mm > 0.0 for one in relief_readings(service) if one.after >= first)


def relief_readings(service: Service) -> list[Gap]:
    """Return the gaps that were read with a fret held on either side."""
    gaps = [one for one in service.readings if isinstance(one, Gap) and len(one.held) > 1]
    return [one for one in gaps if one.held[0] < one.fret < one.held[-1]]


def why_not_to_turn(service: Service, now: Estimate) -> str:
    """Return why the rod is not to be turned on without a look, in words; empty where it answers as rods do."""
    turned = sum(abs(one.turns) for one in service.work if isinstance(one, RodTurn))
    if not turned or not _seen_since(service):
        return ""
    found, rod = relief_per_turn_mm(now), family_of(now.board.instrument).rod
    if found is None or rod is None:
        return ""
    if found[0] >= 0.0 or (turned < TURNS_TO_TELL and found[0] > -HALF_SPREAD * found[1]):
        return tr(OTHER_WAY)
    usual_mm = abs(rod.relief_mm_per_turn.mean)
    return tr(HARDLY) if turned >= TURNS_TO_TELL and abs(found[0]) < HARDLY_RATIO * usual_mm else ""
