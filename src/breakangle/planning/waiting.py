"""What waits for a reading: neither worked on nor called beyond a set-up before that has been taken."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.planning.adjustments.rod import RodTurn
from breakangle.planning.estimate import Estimate
from breakangle.planning.kinds import Lever
from breakangle.planning.margins import MOST_HELD, only_cut, own_targets
from breakangle.planning.registry import adjustment_kind, reading_kind
from breakangle.planning.rod_answer import OTHER_WAY, relief_readings, why_not_to_turn
from breakangle.planning.sight import Sight

Places = NDArray[np.bool_]


def waits(service: Service, now: Estimate, sight: Sight, levers: Sequence[Lever]) -> Places:
    """Return which targets wait for a reading, (T,): relief after a turn of the rod, and what a doubted one would cut.

    A rod that seems to have answered the wrong way is looked into first, and all that stands on it waits.
    """
    if why_not_to_turn(service, now) == OTHER_WAY:
        return np.ones(len(sight.targets), dtype=bool)
    found = np.zeros(len(sight.targets), dtype=bool)
    if turned_unread(service):
        turned = RodTurn(turns=0.125)
        found |= [adjustment_kind(turned).verified_by(turned, one) for one in sight.targets]
    own, cuts = own_targets(levers, sight.targets), only_cut(levers)
    found |= _doubted(service, now, sight) & own[:, cuts].any(axis=1)
    # A saddle of one piece is cut for all its strings, and its crowns are shaped last.
    whole = cuts & own[found].any(axis=0) & (own.sum(axis=0) > MOST_HELD)
    if whole.any():
        orders = np.array([lever.order for lever in levers])
        found |= own[:, orders == orders[whole].min()].any(axis=1) | ~own[
            :, orders <= orders[whole].min()
        ].any(axis=1)
    return found


def turned_unread(service: Service) -> bool:
    """Return whether the rod has been turned and relief not been read since."""
    turns = [place for place, one in enumerate(service.work, start=1) if isinstance(one, RodTurn)]
    return bool(turns) and not any(one.after >= turns[-1] for one in relief_readings(service))


def _doubted(service: Service, now: Estimate, sight: Sight) -> Places:
    """Return which targets stand on a figure that was read once, just now, and that the others speak against, (T,)."""
    here = [one for one in service.readings if one.after == len(service.work)]
    places = [(one.quantity, reading_kind(one).place(one)) for one in here]
    odd = {
        place
        for one in now.surprises
        if one.reading in here
        and places.count(place := (one.reading.quantity, reading_kind(one.reading).place(one.reading))) == 1
    }
    shown = [sight.reading(index) for index in range(len(sight.targets))]
    return np.array([(one.quantity, reading_kind(one).place(one)) in odd for one in shown], dtype=bool)


def cut_too_soon(moves: Sequence[tuple[Lever, float]], sight: Sight) -> tuple[list[Adjustment], Places]:
    """Return the cuts of what reads inside now, beside a turn of the rod, and the targets that so wait, (T,).

    What the turn does to them is only expected; they are read before anything is taken away for good.
    """
    waiting = np.zeros(len(sight.targets), dtype=bool)
    if not any(lever.doubtful for lever, _ in moves):
        return [], waiting
    levers = [lever for lever, _ in moves]
    own = own_targets(levers, sight.targets)
    found: list[Adjustment] = []
    for column in np.flatnonzero(only_cut(levers)):
        if sight.inside[own[:, column]].all():
            found += levers[column].made(levers[column].low)
            waiting |= own[:, column]
    return found, waiting
