"""How near what is wanted figures are brought: nearer, where a whole set is read again or the instrument comes back.

What stands at its edge is read inside about as often as out, and left. Who reads everything a second time, or has the
instrument on the bench a second time, wants it to stay inside: what then stands in the outer part of its tolerance is
brought to the middle as well. Judged, and called beyond a set-up, is everything by its whole tolerance.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from breakangle.model.plan import Note
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.reading_state import stages_read_whole
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.solve.deferred import Moves
from breakangle.planning.solve.margins import own_targets
from breakangle.planning.solve.unreached import Unreached
from breakangle.reference.messages import noted

# Of each tolerance, what is worked to after a second full set, and on a later visit; calibrated by closed_loop.
SECOND_SET_SHARE, LATER_SHARE = 0.6, 0.75
WHOLE = 1.0  # exact


def share_worked_to(service: Service, now: Estimate, sight: Sight) -> float:
    """Return what share of each tolerance figures are brought inside: less than all of it where it is asked twice."""
    if stages_read_whole(service, sight) > 1:
        return SECOND_SET_SHARE
    return LATER_SHARE if now.belief.seen_before else WHOLE


def worked_to(service: Service, now: Estimate, sight: Sight) -> Sight:
    """Return the targets with the tolerances that they are worked to, (T,)."""
    return replace(sight, tolerance=share_worked_to(service, now, sight) * sight.tolerance)


def still_outside(
    found: Sequence[Unreached], sight: Sight, worked: Sight, by_hand: bool = False
) -> tuple[Unreached, ...]:
    """Return what ends outside the whole of its tolerance, of what is not brought as near as it was `worked` to.

    As on a first plan, by more than the hand's share of it where anything is moved. What is outside now, and of which
    no figure tells where it ends, stays among them. `by_hand`: only by more than the hand's share.
    """

    def ends_outside(one: Unreached) -> bool:
        if one.far_ratio is None:
            return not sight.inside[one.target]
        ratio = float(sight.tolerance[one.target] / worked.tolerance[one.target])
        return (replace(one, spread_ratio=None) if by_hand else one).past_edge(ratio)

    return tuple(one for one in found if ends_outside(one))


def nearer_notes(service: Service, now: Estimate, sight: Sight, moves: Moves) -> tuple[Note, ...]:
    """Return why figures that are inside their tolerance are worked on; empty where none is."""
    share = share_worked_to(service, now, sight)
    own = own_targets([lever for lever, _ in moves], sight.targets)
    outer = np.abs(sight.off) > share * sight.tolerance
    if share == WHOLE or not (own.any(axis=1) & sight.inside & outer).any():
        return ()
    key = "trips.nearer_second" if share == SECOND_SET_SHARE else "trips.nearer_later"
    return (noted(Message(key=key, values={"percent": 100.0 * share})),)
