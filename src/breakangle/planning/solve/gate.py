"""The one gate: whether what cannot be undone may be ordered, and which readings open it.

Nothing irreversible on half a picture: no slot, saddle or bridge is cut while relief, or a gap under a string that the
cut serves, is unread or doubted, or before the rod has been set and read. Common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.model.plan import Finding
from breakangle.model.reading import Adjustment, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.reading_state import doubted, read_in_visit, times_read, unlike_the_rest
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.targets.gap import GapTarget, is_relief, trade_name

Places = NDArray[np.bool_]
CUT_KNOWN_SHARE = (
    0.6  # of its tolerance: an action known no better is read again first; common practice, no source
)
HOLDS_FROM = 0.9  # surely enough to leave a saddle uncut; common practice, no source
SLOTS = ("nut-slot", "slot-width")
# What holds the saddle and not the slots: they are what mends a high nut, and the board's end is far from them.
NOT_AT_NUT = ("high-nut", "hump", "rising-tongue")
HEIGHTS = "saddle-height"
Why = Literal["unread", "stale", "doubted", "unlike"]


@dataclass(frozen=True)
class Awaited:
    """A target, by its place, that has to be read before a cut, and why it is not enough as it stands."""

    target: int
    why: Why


@dataclass(frozen=True)
class Gate:
    """What stands in the way of each lever, (J,): nothing of a reversible one, and nothing where the gate is open."""

    awaited: tuple[tuple[Awaited, ...], ...]
    # The key of the pattern that holds each lever; empty where none does.
    held_by: tuple[str, ...]

    @property
    def is_open(self) -> Places:
        """Return which levers may be moved, (J,)."""
        both = zip(self.awaited, self.held_by, strict=True)
        return np.array([not (waits or held) for waits, held in both], dtype=bool)


def irreversible(levers: Sequence[Lever]) -> Places:
    """Return which levers take something away that nothing puts back, (J,)."""
    return np.array([lever.irreversible for lever in levers], dtype=bool)


def gate_of(
    service: Service,
    now: Estimate,
    sight: Sight,
    levers: Sequence[Lever],
    own: Places,
    patterns: Sequence[Finding] = (),
) -> Gate:
    """Return what each irreversible lever waits for, and what holds it.

    `own` (T, J) are the targets that each lever serves; `patterns` what is found over many readings.
    """
    cuts = irreversible(levers)
    if not cuts.any():
        return Gate(((),) * len(levers), ("",) * len(levers))
    read = read_in_visit(service, sight) & np.logical_not(now.forecast)
    odd, unlike = doubted(service, now, sight), unlike_the_rest(service, now, sight)
    known = sight.judged & ~_rod_unread(service, sight)
    still = known & ~_moved_since(sight)
    why = [_why(*state) for state in zip(read, known, odd, unlike, strict=True)]
    why_still = [_why(*state) for state in zip(read, still, odd, unlike, strict=True)]
    needed = _one_body(needs(sight.targets, own), levers)
    awaited = [
        tuple(
            Awaited(place, reason)
            for place in np.flatnonzero(needed[:, column]).tolist()
            if (reason := (why if _at_the_nut(lever) else why_still)[place])
        )
        if cuts[column]
        else ()
        for column, lever in enumerate(levers)
    ]
    return Gate(tuple(awaited), tuple(_holds(lever, patterns) for lever in levers))


def _holds(lever: Lever, patterns: Sequence[Finding]) -> str:
    """Return the key of the pattern that has to be looked at before `lever` cuts; empty where none holds it.

    Of a nut that stands high the slots are what mends it: it holds the saddle.
    """
    if not lever.irreversible:
        return ""
    nut = _at_the_nut(lever)
    likely = [one for one in patterns if one.holds_cuts and one.probability >= HOLDS_FROM]
    return next((one.finding for one in likely if not (nut and one.finding in NOT_AT_NUT)), "")


def _at_the_nut(lever: Lever) -> bool:
    """Return whether a lever cuts a slot: how far a turn of the rod has moved the string's action is nothing to it."""
    return lever.trial.adjust in SLOTS


def _moved_since(sight: Sight) -> Places:
    """Return which actions are no longer known well enough to cut by, (T,): a turn of the rod has moved them since."""
    action = [isinstance(one, GapTarget) and trade_name(one) == "action" for one in sight.targets]
    return np.array(action, dtype=bool) & (sight.spread > enough_to_cut(sight))


def enough_to_cut(sight: Sight) -> NDArray[np.float64]:
    """Return the spread to which each action has to be known before a height is cut by it, (T,)."""
    return CUT_KNOWN_SHARE * sight.tolerance


def needs(targets: Sequence[Target], own: Places) -> Places:
    """Return which targets have to be read before each lever cuts, (T, J).

    Its own; relief; and every gap under the strings it serves.
    """
    relief = np.array([is_relief(one) for one in targets], dtype=bool)
    gap = np.array([isinstance(one, GapTarget) for one in targets], dtype=bool)
    string = np.array([one.string for one in targets])
    under = (string[:, None] == string).astype(np.intp) @ own.astype(np.intp) > 0
    return np.asarray(own | relief[:, None] | (gap[:, None] & under))


def _one_body(needed: Places, levers: Sequence[Lever]) -> Places:
    """Return which targets have to be read, (T, J): of a saddle cut by hand, that is out once, all its heights need."""
    together = _cut_heights(levers)
    wanted = np.asarray(needed[:, together]).any(axis=1)
    return np.asarray(needed | np.outer(wanted, together))


def _cut_heights(levers: Sequence[Lever]) -> Places:
    """Return which levers cut the height of a saddle, (J,)."""
    heights = [lever.irreversible and lever.trial.adjust == HEIGHTS for lever in levers]
    return np.array(heights, dtype=np.bool_)


def _rod_unread(service: Service, sight: Sight) -> Places:
    """Return which targets are relief that nobody has read since the rod was turned, (T,)."""
    relief = np.array([is_relief(one) for one in sight.targets], dtype=bool)
    return np.asarray(relief & (times_read(service, sight) == 0))


def _why(read: bool, judged: bool, odd: bool, unlike: bool) -> Why | None:
    if not read:
        return "unread"
    if odd or unlike:
        return "doubted" if odd else "unlike"
    return None if judged else "stale"


def adjuster_key(adjustment: Adjustment) -> str:
    """Return an adjuster's name as forms write it: `rod`, `saddle-height_6`, `saddle-height_bass`."""
    places = [getattr(adjustment, name, None) for name in ("string", "post")]
    return "_".join([adjustment.adjust, *(str(one) for one in places if one is not None)])


def lever_key(lever: Lever) -> str:
    """Return the key of the adjuster that a lever moves."""
    return adjuster_key(lever.trial)
