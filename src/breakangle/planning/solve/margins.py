"""How far off each target may be: by the plain tolerance on arrival, with a margin once work has begun.

An adjuster that is moved at all is moved far enough to stay right; one that need not be moved is not moved because
of what might be.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.registry import adjustment_kind, adjustment_kinds
from breakangle.planning.kinds.targets.gap import is_relief

Array = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench closed_loop` tells what it costs.
# In spreads: on arrival; later, what nobody has worked on; and what has been, or is about to be.
ARRIVAL_SPREADS, LEFT_SPREADS, DONE_SPREADS = 0.5, 1.3, 1.8
DEEP_SPREADS = 3.0  # a cut too deep cannot be undone
CUT_SPREADS, SURE_SHARE = 2.0, 0.125  # of what is known to so small a share of its tolerance
MOST_HELD = 2  # a rod serves both its sides; a post that lifts every string cannot put each in the middle
LEAST_SHARE = 0.35  # of the tolerance that always remains usable


@dataclass(frozen=True)
class Edges:
    """How far off each target (T,) may be with its own adjusters left as they are, and with one of them moved.

    `deep` (T,) is how far below what is wanted a cut may leave it. `own` (T, J): whether a target is what a person
    reads after moving that lever; `held` (T, J): whether moving it brings the nearer edge, which it does not where
    one lever serves many targets at once.
    """

    left: Array
    moved: Array
    deep: Array
    own: NDArray[np.bool_]
    held: NDArray[np.bool_]

    def only(self, levers: NDArray[np.intp]) -> "Edges":
        """Return the same edges with only these levers."""
        return Edges(self.left, self.moved, self.deep, self.own[:, levers], self.held[:, levers])

    def of(self, targets: NDArray[np.bool_]) -> "Edges":
        """Return the same edges of only these targets."""
        at = targets
        return Edges(self.left[at], self.moved[at], self.deep[at], self.own[at], self.held[at])


def begun(service: Service) -> bool:
    """Return whether anything a plan could ask for has been moved (tuning and new strings are not)."""
    return any(adjustment_kind(one).planned for one in service.work)


def own_targets(levers: Sequence[Lever], targets: Sequence[Target]) -> NDArray[np.bool_]:
    """Return whether a person reads each target to see that each lever did its work, (T, J)."""
    found = np.zeros((len(targets), len(levers)), dtype=bool)
    for column, lever in enumerate(levers):
        verified, move = adjustment_kind(lever.trial).verified_by, lever.trial
        found[:, column] = [verified(move, target) for target in targets]
    return found


def only_cut(levers: Sequence[Lever]) -> NDArray[np.bool_]:
    """Return which levers can only take away, (J,): nothing puts it back. A rod that is only to be loosened is none."""
    return np.array([lever.high <= 0.0 and not lever.doubtful for lever in levers], dtype=bool)


def cut_edge(sight: Sight) -> Array:
    """Return how far off what only a cut could mend may be and still be left, (T,).

    What reads inside is not cut because of what might be: it is read again first. Once it is well known, what stands at
    its very edge is.
    """
    known = sight.spread <= SURE_SHARE * sight.tolerance
    return np.where(known, sight.tolerance - CUT_SPREADS * sight.spread, sight.tolerance)


def _doubtful(levers: Sequence[Lever]) -> NDArray[np.bool_]:
    return np.array([lever.doubtful for lever in levers], dtype=bool)


def edges(
    service: Service, sight: Sight, levers: Sequence[Lever], own: NDArray[np.bool_], hand: Array
) -> Edges:
    """Return how far off each target may be; `own` (T, J) are the levers' own targets, `hand` (T,) what a hand adds."""
    spread = np.hypot(sight.spread, hand)
    cut_only = own[:, only_cut(levers)].any(axis=1) & ~own[:, ~only_cut(levers)].any(axis=1)
    left = np.where(cut_only & sight.inside, cut_edge(sight), left_edge(service, sight))
    if not begun(service):
        # A rod serves both sides, and is read after every turn: it may take a good one to its plain edge for the other.
        left = np.where(own[:, _doubtful(levers)].any(axis=1) & sight.inside, sight.tolerance, left)
    return Edges(
        left=left,
        moved=np.minimum(left, narrowed(sight, DONE_SPREADS, spread)),
        deep=np.minimum(left, np.maximum(sight.tolerance - DEEP_SPREADS * spread, 0.0)),
        own=own,
        held=own & (own.sum(axis=0) <= MOST_HELD),
    )


def left_edge(service: Service, sight: Sight) -> Array:
    """Return how far off each target may be and its adjusters still be left as they are, (T,)."""
    if not begun(service):
        return narrowed(sight, ARRIVAL_SPREADS, sight.spread)
    done = [one for one in service.work if adjustment_kind(one).planned]
    own = np.array(
        [[adjustment_kind(one).verified_by(one, target) for one in done] for target in sight.targets]
    )
    worked = (own & (own.sum(axis=0) <= MOST_HELD)).any(axis=1)
    spreads = np.where(worked, DONE_SPREADS, LEFT_SPREADS)
    return narrowed(sight, np.where(_had_its_turn(done, sight), 0.0, spreads), sight.spread)


def _had_its_turn(done: Sequence[Adjustment], sight: Sight) -> NDArray[np.bool_]:
    """Return which targets were served before what has been done since, (T,): relief, once anything follows the rod.

    What reads inside is not opened again for the sake of a margin: a rod turned now would undo the heights.
    """
    rod = adjustment_kinds()["rod"]
    if all(adjustment_kind(one).order <= rod.order for one in done):
        return np.zeros(len(sight.targets), dtype=bool)
    return np.array([is_relief(one) for one in sight.targets], dtype=bool)


def narrowed(sight: Sight, spreads: Array | float, spread: Array) -> Array:
    """Return the tolerances less `spreads` times what is not known, never less than LEAST_SHARE of them."""
    return np.asarray(np.maximum(sight.tolerance - spreads * spread, LEAST_SHARE * sight.tolerance))


def hand_spread(now: Estimate, sight: Sight, levers: Sequence[Lever], own: NDArray[np.bool_]) -> Array:
    """Return the spread that the hand adds to each target when its own adjusters are moved, (T,).

    Levers whose every move is read afterwards add none: the next plan sees what they did.
    """
    found = np.zeros(len(sight.targets))
    for column, lever in enumerate(levers):
        if lever.doubtful:
            continue
        move = lever.made(lever.typical if lever.high > 0.0 else -lever.typical)[0]
        variance = adjustment_kind(move).effect(move, now.picture).variance
        found = np.maximum(found, own[:, column] * np.sqrt(sight.rows**2 @ variance))
    return found
