"""What waits for a reading: neither worked on nor called beyond a set-up before that has been taken."""

from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.planning.adjustments.rod import RodTurn
from breakangle.planning.estimate import Estimate
from breakangle.planning.kinds import Lever
from breakangle.planning.margins import MOST_HELD, only_cut, own_targets
from breakangle.planning.rod_answer import OTHER_WAY, relief_readings, why_not_to_turn
from breakangle.planning.sight import Sight, place_read
from breakangle.planning.targets.gap import is_relief

Places = NDArray[np.bool_]
Moves = tuple[tuple[Lever, float], ...]


def waits(service: Service, now: Estimate, sight: Sight, levers: Sequence[Lever], own: Places) -> Places:
    """Return which targets wait for a reading, (T,): relief after a turn of the rod, and what a doubted one would cut.

    `own` are the levers' own targets, (T, J). A rod that seems to have answered the wrong way is looked into first, and
    all that stands on it waits.
    """
    if why_not_to_turn(service, now) == OTHER_WAY:
        return np.ones(len(sight.targets), dtype=bool)
    found = np.zeros(len(sight.targets), dtype=bool)
    if turned_unread(service):
        found |= [is_relief(one) for one in sight.targets]
    cuts = only_cut(levers)
    found |= _doubted(service, now, sight) & own[:, cuts].any(axis=1)
    # A saddle of one piece is cut for all its strings, and its crowns are shaped last.
    whole = cuts & own[found].any(axis=0) & (own.sum(axis=0) > MOST_HELD)
    if whole.any():
        orders = np.array([lever.order for lever in levers])
        turn = orders[whole].min()
        later = own[:, orders > turn].any(axis=1) & ~own[:, orders <= turn].any(axis=1)
        found |= own[:, orders == turn].any(axis=1) | later
    return found


def turned_unread(service: Service) -> bool:
    """Return whether the rod has been turned and relief not been read since."""
    turns = [place for place, one in enumerate(service.work, start=1) if isinstance(one, RodTurn)]
    return bool(turns) and not any(one.after >= turns[-1] for one in relief_readings(service))


def _doubted(service: Service, now: Estimate, sight: Sight) -> Places:
    """Return which targets stand on a figure that was read once, just now, and that the others speak against, (T,)."""
    here = [one for one in service.readings if one.after == len(service.work)]
    times = Counter(place_read(one) for one in here)
    odd = {place_read(one.reading) for one in now.surprises if one.reading in here}
    return np.array([one in odd and times[one] == 1 for one in sight.places], dtype=bool)


def not_too_soon(moves: Moves, sight: Sight) -> tuple[Moves, Places]:
    """Return the moves without cuts of what reads inside, beside a turn of the rod, and the targets that so wait, (T,).

    What the turn does to them is only expected; they are read before anything is taken away for good.
    """
    waiting = np.zeros(len(sight.targets), dtype=bool)
    if not any(lever.doubtful for lever, _ in moves):
        return moves, waiting
    levers = [lever for lever, _ in moves]
    own = own_targets(levers, sight.targets)
    soon = only_cut(levers) & (~own | sight.inside[:, None]).all(axis=0)
    waiting |= own[:, soon].any(axis=1)
    return tuple(one for one, early in zip(moves, soon, strict=True) if not early), waiting
