"""Asking "what if": the state that would read so, with everything else left as it is. Nothing is decided here.

The neck's even bend answers for relief, each saddle for its string's action, each nut slot for its first-fret
clearance: as many unknowns as figures, so Newton's method on the readings' own derivatives finds the state.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from breakangle.planning.buzz.contact_notes import BoardNotes, board_notes, quiet_depths, swing_depths
from breakangle.planning.buzz.touch_chance import GapBelief
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.reference.strength import Playing

Array = NDArray[np.float64]
# Where nothing else is said below: chosen: how finely it is reckoned, and how far a wish may go.
STEPS = 2  # the readings are all but linear in the state: a third changed no thousandth of a millimetre in 200 wishes
MOST_MM = {"relief": 1.5, "action": 6.0, "nut clearance": 1.5}


@dataclass(frozen=True)
class Wish:
    """Relief, and action and first-fret clearance at the lowest and the highest string, in mm as they read.

    Between the two edges the figures go in a straight progression. None: as it is; so is the edge that is not spoken of
    where the other one is.
    """

    relief_mm: float | None = None
    action_low_mm: float | None = None
    action_high_mm: float | None = None
    nut_low_mm: float | None = None
    nut_high_mm: float | None = None


@dataclass(frozen=True)
class Chances:
    """For every note (N,): string from 1, the fret it is stopped at, the chance it touches, and on which crown."""

    string: NDArray[np.intp]
    stop: NDArray[np.intp]
    chance: Array
    crown: NDArray[np.intp]
    heard: Array
    """The chance that the touch is heard, (N,)."""


def gap_targets(now: Estimate) -> tuple[GapTarget, ...]:
    """Return where relief, action and first-fret clearance are read on this instrument, one target each."""
    found = house_targets(now.board, "medium")
    return tuple(one for one in found if isinstance(one, GapTarget))


def _edges(now: Estimate, targets: tuple[GapTarget, ...]) -> Array:
    """Return how near each target's string lies to the bass edge, 0 to 1."""
    numbers = [one.string for one in now.board.instrument.in_order()]
    share = np.clip((1.0 - now.board.side_ratio) / 2.0, 0.0, 1.0)
    return np.array([share[numbers.index(one.string)] for one in targets])


def as_it_is(now: Estimate) -> Wish:
    """Return the figures as they stand: relief as the mean of both edges, the others fitted by a straight line."""
    targets = gap_targets(now)
    values, share = sight_of(now, targets).value, _edges(now, targets)
    names = np.array([trade_name(one) for one in targets])

    def line(name: str) -> tuple[float | None, float | None]:
        at = names == name
        if not np.any(at):
            return None, None
        slope, high = (
            np.polyfit(share[at], values[at], 1) if np.ptp(share[at]) > 0 else (0.0, values[at].mean())
        )
        return round(float(high + slope), 3), round(float(high), 3)

    relief = names == "relief"
    low, high = line("action")
    nut_low, nut_high = line("nut clearance")
    bowed = round(float(values[relief].mean()), 3) if np.any(relief) else None
    return Wish(bowed, low, high, nut_low, nut_high)


def _both_edges(now: Estimate, wish: Wish) -> Wish:
    """Return the wish with both edges said wherever one is."""
    pairs = (("action_low_mm", "action_high_mm"), ("nut_low_mm", "nut_high_mm"))
    lacking = [
        name
        for low, high in pairs
        for name, other in ((low, high), (high, low))
        if getattr(wish, name) is None and getattr(wish, other) is not None
    ]
    stands = as_it_is(now) if lacking else wish
    return replace(wish, **{name: getattr(stands, name) for name in lacking})


def wished(now: Estimate, wish: Wish) -> tuple[GapTarget, ...]:
    """Return the targets that `wish` comes to: a figure for each string that it speaks of."""
    targets, wish = gap_targets(now), _both_edges(now, wish)
    share = _edges(now, targets)
    ends = {
        "relief": (wish.relief_mm, wish.relief_mm),
        "action": (wish.action_low_mm, wish.action_high_mm),
        "nut clearance": (wish.nut_low_mm, wish.nut_high_mm),
    }
    found = []
    for one, toward_bass in zip(targets, share, strict=True):
        low, high = ends[trade_name(one)]
        if low is None or high is None:
            continue
        mm = min(max(high + (low - high) * float(toward_bass), 0.0), MOST_MM[trade_name(one)])
        found.append(one.model_copy(update={"mm": round(mm, 3)}))
    return tuple(found)


def would_read(now: Estimate, wish: Wish) -> Estimate:
    """Return the state in which the instrument would read as wished; what is known of it stays as doubtful."""
    return reads_as(now, wished(now, wish))


def reads_as(now: Estimate, targets: tuple[GapTarget, ...]) -> Estimate:
    """Return the state in which every one of these gaps would read as its target wants; as doubtful as before."""
    if not targets:
        return now
    places = _answering(now, targets)
    for _ in range(STEPS):
        sight = sight_of(now, targets)
        rows = np.zeros((len(targets), len(places)))
        for column, columns in enumerate(places):
            rows[:, column] = sight.rows[:, columns].sum(axis=1)
        step = np.linalg.lstsq(rows, -sight.off, rcond=None)[0]
        mean = now.belief.mean.copy()
        for amount, columns in zip(step, places, strict=True):
            mean[columns] += amount
        now = replace(now, belief=replace(now.belief, mean=mean))
    return now


def _answering(now: Estimate, targets: tuple[GapTarget, ...]) -> list[list[int]]:
    """Return the places of the state that answer for the targets: the bend, then a saddle or a slot for each."""
    layout = now.picture.layout
    numbers = [one.string for one in now.board.instrument.in_order()]
    found: list[list[int]] = []
    for one in targets:
        name, index = trade_name(one), numbers.index(one.string)
        block = {"action": "saddle_height", "nut clearance": "nut_height"}.get(name)
        place = [int(layout["neck"][0])] if block is None else [int(layout[block][index])]
        if place not in found:
            found.append(place)
    return found


def touch_chances(now: Estimate, playing: Playing, strength: str) -> Chances:
    """Return how likely each note is to touch a crown at `strength`: at once, from the crown that is nearest to it.

    The swing of a string does not depend on the heights, so it is worked out once a board; what is left is one
    normal probability a crown, or that of a board's end that nobody read. What other crowns add is left out.

    Raises:
        CorrectInputError: a strength that is not light, medium or heavy.
    """
    board: BoardNotes = board_notes(now.picture)
    height_mm = playing.strengths.height_mm(strength)
    gaps = GapBelief(board, now.belief)
    spread = np.maximum(gaps.spread_mm, 1e-6)

    def chance_below(depth: Array) -> Array:
        left = np.where(np.isfinite(depth), gaps.gap_mm - height_mm * np.nan_to_num(depth), np.inf)
        return np.asarray(0.5 * (1.0 - erf(left / (np.sqrt(2.0) * spread))))

    swing = swing_depths(now.board, playing)
    chance, end = chance_below(swing), gaps.end_chances(np.nan_to_num(swing), np.array([height_mm]))[:, 0]
    heard = chance_below(quiet_depths(now.board, playing)).max(axis=1)
    worst = np.argmax(chance, axis=1)
    return Chances(
        board.string + 1, board.stop, np.maximum(chance[np.arange(len(worst)), worst], end), worst + 1, heard
    )
