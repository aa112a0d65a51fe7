"""Which adjusters may be moved at all: what a person leaves alone, what is not turned blindly, what is cut in vain."""

from collections.abc import Sequence
from dataclasses import replace
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Adjustment, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.rod_answer import why_not_to_turn
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.registry import adjustment_kind, adjustment_kinds
from breakangle.planning.kinds.rounding import step_mm
from breakangle.planning.kinds.targets.gap import is_relief
from breakangle.planning.solve.deferred import turned_unread
from breakangle.planning.solve.margins import left_edge, own_targets
from breakangle.planning.solve.shared_crowns import crowns_in_use
from breakangle.planning.solve.unreached import Unreached
from breakangle.planning.swap.new_strings import slots_widened

# Where nothing else is said below: common practice, no source.
TRAVELS = {"saddle-height": "height_travel_mm", "saddle-position": "position_travel_mm"}
SLOTS = ("nut-slot", "slot-width")
SAME_STEP = 1e-6  # of a step: the rounding of a quotient; derived
AT_ITS_END = 0.99  # of a lever's travel
FAR_OUT = 2.0  # tolerances: relief that stays bowed past this is mended before a saddle is cut; a crown is made anew

# Tolerances too, where no rod could mend it: what such a neck has is lived with, and the saddle lowered all the same.
# Common practice, no source.
FAR_OUT_NO_ROD = 4.0


def usable_levers(
    service: Service, now: Estimate, sight: Sight, without: Sequence[Adjustment], rod_helps: bool = False
) -> tuple[Lever, ...]:
    """Return the levers that may be moved; those of the adjusters in `without` are left alone.

    `rod_helps`: the rod may be turned for what else it moves, where relief itself asks for nothing.
    """
    levers = slots_widened(service, now, _all_levers(now))
    asked = [_asked_for(one, service, now, sight, rod_helps) if one.doubtful else one for one in levers]
    wanted = _called_for(levers, sight) & crowns_in_use(levers, sight)
    return tuple(
        with_travel_left(lever, service, now)
        for lever, use in zip(asked, wanted, strict=True)
        if use and lever is not None and not _left_alone(lever, now, without)
    )


def _called_for(levers: Sequence[Lever], sight: Sight) -> NDArray[np.bool_]:
    """Return which levers have something of their own to mend, (J,): not what nobody read, for what else it moves."""
    return np.asarray((own_targets(levers, sight.targets) & sight.judged[:, None]).any(axis=0))


def _all_levers(now: Estimate) -> list[Lever]:
    return [lever for kind in adjustment_kinds().values() for lever in kind.levers(now.picture)]


def same_adjuster(one: Adjustment, other: Adjustment) -> bool:
    """Return whether two adjustments move the same adjuster, by whatever amounts."""
    places = ("adjust", "string", "post")
    return all(getattr(one, key, None) == getattr(other, key, None) for key in places)


def _same_place(one: Adjustment, other: Adjustment) -> bool:
    """Return whether two adjustments use up the same travel: a crown's is that of each of the strings it carries."""
    if isinstance(one, SaddlePosition) and isinstance(other, SaddlePosition):
        return bool(set(one.strings) & set(other.strings))
    return same_adjuster(one, other)


def _left_alone(lever: Lever, now: Estimate, without: Sequence[Adjustment]) -> bool:
    """Return whether a person leaves it: itself, or the whole of a saddle that is one piece."""
    made = lever.trial
    part = now.board.instrument.bridge.kind == "one-piece" and getattr(made, "post", None) is None
    return any(
        same_adjuster(made, one)
        or (part and one.adjust == made.adjust and getattr(one, "post", None) is not None)
        for one in without
    )


def _asked_for(lever: Lever, service: Service, now: Estimate, sight: Sight, rod_helps: bool) -> Lever | None:
    """Return a doubtful lever (the rod) as far as its own targets ask for it; None where it is to be left.

    It is turned for relief, with relief read before every turn: not blindly, not for what else it moves unless it
    `rod_helps`, not the way that makes relief worse, and not on if it does not answer. Where no note may buzz it may
    help with that.
    """
    if why_not_to_turn(service, now) or turned_unread(service):
        return None
    own = own_targets([lever], sight.targets)[:, 0] & sight.judged
    if not own.any() or (service.targets is not None and service.targets.no_buzz_at):
        return lever if own.any() else None
    out = own & (np.abs(sight.off) > left_edge(service, sight))
    ways = set(np.sign(-sight.off[out] * (sight.rows[out] @ lever.direction)).tolist())
    if rod_helps and not ways:
        return lever
    return replace(lever, low=lever.low if -1.0 in ways else 0.0, high=lever.high if 1.0 in ways else 0.0)


def with_travel_left(lever: Lever, service: Service, now: Estimate) -> Lever:
    """Return the lever with what is left of a travel that the instrument's file states, after the work so far."""
    made = lever.trial
    travel = getattr(service.instrument.bridge, TRAVELS.get(made.adjust, ""), None)
    if travel is None and made.adjust == "saddle-position" and service.instrument.bridge.kind == "one-piece":
        travel = (lever.low, lever.high)  # a crown is as wide as it is, however often it is shaped
    if travel is None:
        return lever
    done = sum(float(getattr(one, "mm", 0.0)) for one in service.work if _same_place(made, one))
    low, high = (min(max(end - done, lever.low), lever.high) for end in travel)
    # As far as whole steps of the hand go: an amount is rounded to these, and not past the end of the travel.
    step = step_mm(made, now.board.instrument)
    if step is not None:
        low, high = ceil(low / step - SAME_STEP) * step, floor(high / step + SAME_STEP) * step
    return replace(lever, low=min(low, 0.0), high=max(high, 0.0))


def vain_cuts(
    now: Estimate, sight: Sight, moves: Sequence[tuple[Lever, float]], missed: Sequence[Unreached]
) -> list[Adjustment]:
    """Return the cuts that are not worth making, because what they are made into has to be replaced or comes later.

    Nothing is cut from a saddle of one piece that is too low for some string, or under a neck that is bowed far past
    what it can be brought to; no crown is shaped of a saddle that has to be made anew for a string far out; no slot is
    cut to its end that still would be too high.
    """
    cuts = [(lever.made(amount)[0], amount <= AT_ITS_END * lever.low) for lever, amount in moves]
    one_piece = now.board.instrument.bridge.kind == "one-piece"
    no_height, no_crown = _in_vain(now, sight, missed) if one_piece else (False, False)

    def misses(cut: Adjustment) -> bool:
        return any(adjustment_kind(cut).verified_by(cut, sight.targets[one.target]) for one in missed)

    def vain(cut: Adjustment, at_its_end: bool) -> bool:
        if cut.adjust == "nut-slot":
            return at_its_end and misses(cut)
        if cut.adjust == "saddle-position":
            return one_piece and no_crown
        return no_height and cut.adjust == "saddle-height"

    return [cut for cut, at_its_end in cuts if vain(cut, at_its_end)]


def _in_vain(now: Estimate, sight: Sight, missed: Sequence[Unreached]) -> tuple[bool, bool]:
    """Return whether no height, and whether no crown, of a saddle of one piece is worth cutting."""
    if not missed:
        return False, False
    far = [(sight.targets[one.target], one.far_ratio or 0.0) for one in missed]
    made = [lever.trial for lever in _all_levers(now)]
    whole = [one for one in made if getattr(one, "post", None)]
    crowns = [one for one in made if one.adjust == "saddle-position"]

    def served(by: Sequence[Adjustment], target: Target) -> bool:
        return any(adjustment_kind(one).verified_by(one, target) for one in by)

    too_low = any(ratio < 0.0 and served(whole, target) for target, ratio in far)
    bowed_ratio = FAR_OUT_NO_ROD if now.board.instrument.rod.kind == "none" else FAR_OUT
    bowed = any(is_relief(target) and ratio > bowed_ratio for target, ratio in far)
    anew = any(abs(ratio) > FAR_OUT and served(crowns, target) for target, ratio in far)
    return too_low or bowed, too_low or bowed or anew
