"""What waits for a reading: neither worked on nor called beyond a set-up before that has been taken."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.plan import Finding
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.reading_state import doubted, read_in_visit, unlike_the_rest
from breakangle.planning.estimate.rod_answer import OTHER_WAY, relief_readings, why_not_to_turn
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.targets.gap import GapTarget, is_relief, trade_name
from breakangle.planning.solve.gate import irreversible
from breakangle.planning.solve.loose_bridge import after_the_slide
from breakangle.planning.solve.margins import MOST_HELD, only_cut, own_targets
from breakangle.planning.solve.nut_first import waits_for_the_nut
from breakangle.planning.swap.new_strings import unread_since_strings

TWIST = "twist"
Places = NDArray[np.bool_]
Moves = tuple[tuple[Lever, float], ...]


def waits(service: Service, now: Estimate, sight: Sight, levers: Sequence[Lever], own: Places) -> Places:
    """Return which targets wait for a reading, (T,): after new strings or a turn of the rod, or for a doubt.

    `own` are the levers' own targets, (T, J). A rod that seems to have answered the wrong way is looked into first, and
    all that stands on it waits.
    """
    if why_not_to_turn(service, now) == OTHER_WAY:
        return np.ones(len(sight.targets), dtype=bool)
    found = unread_since_strings(service, sight.targets)
    if turned_unread(service):
        found |= [is_relief(one) for one in sight.targets]
    cuts = only_cut(levers)
    # The rod is read again after every turn; of what no reading follows, nothing is done on a figure that is doubted.
    relief = np.array([is_relief(one) for one in sight.targets], dtype=bool)
    unlike = unlike_the_rest(service, now, sight) & ~relief
    # A note unlike the rest holds what is done for its pitch: it says nothing of how high the string stands.
    pitch = np.array([target.quantity == "intonation" for target in sight.targets], dtype=bool)
    found |= _beside(doubted(service, now, sight) | (unlike & ~pitch), sight) | unlike
    # A saddle of one piece is cut for all its strings, and its crowns are shaped last.
    whole = cuts & own[found].any(axis=0) & (own.sum(axis=0) > MOST_HELD)
    if whole.any():
        orders = np.array([lever.order for lever in levers])
        turn = orders[whole].min()
        later = own[:, orders > turn].any(axis=1) & ~own[:, orders <= turn].any(axis=1)
        found |= own[:, orders == turn].any(axis=1) | later
    return found | waits_for_the_nut(sight)


def nothing_raises(
    service: Service, now: Estimate, sight: Sight, levers: Sequence[Lever], own: Places
) -> Places:
    """Return which actions stand low and are served by nothing but a cut, (T,): the rod turned on would sink them on.

    Though they wait, what a turn does to them counts; but not of a figure that is doubted itself.
    """
    action = [isinstance(one, GapTarget) and trade_name(one) == "action" for one in sight.targets]
    odd = doubted(service, now, sight) | unlike_the_rest(service, now, sight)
    return np.asarray(action & (sight.off < 0.0) & own[:, only_cut(levers)].any(axis=1) & ~odd)


def one_side_of_a_twist(service: Service, now: Estimate, sight: Sight, patterns: Sequence[Finding]) -> Places:
    """Return which targets wait because the neck reads twisted and relief is doubted at a side of it, (T,): all relief.

    The rod stands where the mean of both sides is right: it is not turned for the one side that is sure.
    """
    relief = np.array([is_relief(one) for one in sight.targets], dtype=bool)
    unsure = relief & read_in_visit(service, sight) & (~sight.judged | doubted(service, now, sight))
    twisted = any(one.finding == TWIST for one in patterns)
    return relief if twisted and unsure.any() else np.zeros(len(relief), dtype=bool)


def turned_unread(service: Service) -> bool:
    """Return whether the rod has been turned and relief not been read since."""
    turns = [place for place, one in enumerate(service.work, start=1) if isinstance(one, RodTurn)]
    return bool(turns) and not any(one.after >= turns[-1] for one in relief_readings(service))


def _beside(odd: Places, sight: Sight) -> Places:
    """Return what waits because of doubted figures, (T,): all that is wanted of their string; of relief, itself."""
    relief = np.array([is_relief(one) for one in sight.targets], dtype=bool)
    string = np.array([one.string for one in sight.targets])
    return np.asarray(odd | (np.isin(string, string[odd & ~relief]) & ~relief))


def not_too_soon(moves: Moves, sight: Sight) -> tuple[Moves, Moves, Places]:
    """Return the moves to make beside a turn of the rod, the cuts that wait for it, and the targets that so wait, (T,).

    What the turn does is only expected: it is made and read before anything is taken away for good.
    """
    waiting = np.zeros(len(sight.targets), dtype=bool)
    levers = [lever for lever, _ in moves]
    soon = after_the_slide(levers)
    if any(lever.doubtful for lever in levers):
        soon |= irreversible(levers)
    if soon.any():
        waiting |= own_targets(levers, sight.targets)[:, soon].any(axis=1)
    go = tuple(one for one, early in zip(moves, soon, strict=True) if not early)
    return go, tuple(one for one, early in zip(moves, soon, strict=True) if early), waiting
