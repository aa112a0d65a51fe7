"""The lowest set-up that is free of buzz at a strength: a linear programme over the same gaps.

Gaps are linear in relief, nut and saddle heights, and a string's swing is linear in the height of the
pluck. So "no touch is heard" is a list of linear conditions on the state, and the lowest action under them is
one programme. What is offered to be set keeps to more: see `set_up.Offer`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr
from breakangle.planning.buzz.contact_notes import BoardNotes, board_notes
from breakangle.planning.buzz.culprit import relief_direction
from breakangle.planning.buzz.figures import Measures, measures_of, relief_of, relief_reach
from breakangle.planning.buzz.no_buzz import Floors, floors_of
from breakangle.planning.buzz.set_up import Limit, Lowest, Offer, present
from breakangle.planning.kinds.kind import Lever
from breakangle.planning.kinds.registry import adjustment_kinds
from breakangle.planning.state.picture import Picture, picture_of
from breakangle.reference.strength import Playing

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
# Where nothing else is said below: chosen: bounds of what is looked for, and what breaks ties.
HEIGHT_KINDS = ("rod", "nut-slot", "saddle-height")
NUT_WEIGHT, RELIEF_WEIGHT = 0.05, 0.01
"""Against one mm of action: nuts and relief only break ties."""
FURTHEST_MM = 8.0  # chosen: bound of what is looked for
BINDING_MM = 1e-6  # chosen: rounding
LEVELLED_FROM_MM = 0.01  # chosen: rounding
# The curve of action against relief: its steps, and how far it goes; from a rod near its stop on so much further.
TRADE_STEP_MM, TRADE_TO_MM, TRADE_SPAN_MM = 0.05, 0.5, 0.2  # chosen
SAME_RELIEF_MM = 0.005  # chosen: steps nearer to an end of the curve are left out


def saddle_levers(picture: Picture) -> Sequence[Lever]:
    """Return the levers of the saddles, as `Offer.saddle_down_mm` counts them."""
    return adjustment_kinds()["saddle-height"].levers(picture)


@dataclass(frozen=True)
class Programme:
    """The lowest set-up of one state at one strength, as it can be asked for in several ways."""

    board: BoardNotes
    limits: Floors
    strength: str
    margin_mm: float

    @cached_property
    def relief_reach(self) -> tuple[float, float]:
        """Return the least and the most relief that this rod can give, mm."""
        return relief_reach(self.board)

    @cached_property
    def _ways(self) -> Array:
        """Ways in which rod, nut slots and saddles can change the state, shape (state, J)."""
        found = [
            relief_direction(self.board) if name == "rod" else lever.direction
            for name in HEIGHT_KINDS
            for lever in adjustment_kinds()[name].levers(self.board.picture)
        ]
        return np.stack(found, axis=1)

    @cached_property
    def _measures(self) -> Measures:
        return measures_of(self.board)

    @cached_property
    def _quiet(self) -> tuple[Array, Array]:
        """Rows over the ways and room: nothing is heard."""
        return -self.limits.rows @ self._ways, -self.limits.lack_mm

    def lowest(self, relief_mm: float | None = None) -> Lowest:
        """Return the lowest action at which no touch is heard, however low; lower nuts and less relief break ties.

        Raises:
            CorrectInputError: nothing within reach is free of buzz.
        """
        measures = self._measures
        cost = measures.action_rows.sum(axis=0) + NUT_WEIGHT * measures.open_rows.sum(axis=0)
        cost = cost + RELIEF_WEIGHT * relief_of(self.board)[1]
        rows, room = self._held(relief_mm)
        down = np.full(self._ways.shape[1], -FURTHEST_MM)
        return self._told(self._solved(cost @ self._ways, rows, room, down))

    def offered(self, offer: Offer, relief_mm: float | None = None) -> Lowest:
        """Return the lowest set-up to be offered.

        Raises:
            CorrectInputError: nothing within reach is free of buzz.
        """
        measures, ways = self._measures, self._ways
        held_rows, held_room = self._held(relief_mm)
        ties, off, weight = self._ties(offer)
        count, more = ways.shape[1], len(ties)
        # What stands off by how much is a way of its own: at least as large as the difference, on either side.
        apart = np.block([[ties, -np.eye(more)], [-ties, -np.eye(more)]])
        rows = np.vstack([held_rows, -measures.action_rows @ ways])
        rows = np.vstack([np.hstack([rows, np.zeros((len(rows), more))]), apart])
        room = np.concatenate([held_room, measures.action_mm - offer.least_mm, off, -off])
        cost = np.concatenate([measures.action_rows.sum(axis=0) @ ways, weight])
        down = np.full(count + more, -FURTHEST_MM)
        saddles = saddle_levers(self.board.picture)
        lows = offer.saddle_down_mm or tuple(one.low for one in saddles)
        down[count - len(saddles) : count] = lows
        # No nut is cut for what is offered: on a string with its own nut the action would come down by it.
        nuts = adjustment_kinds()["nut-slot"].levers(self.board.picture)
        down[count - len(saddles) - len(nuts) : count - len(saddles)] = 0.0
        return self._told(self._solved(cost, rows, room, down), offer, lows)

    def _ties(self, offer: Offer) -> tuple[Array, Array, Array]:
        """What breaks ties: rows over the ways (K, J), how far each is to change (K,), and its weight (K,)."""
        picture = self.board.picture
        relief, row = relief_of(self.board)
        nuts = np.eye(picture.layout.size)[picture.layout["nut_height"]]
        aim = 0.0 if offer.relief_mm is None else offer.relief_mm - relief
        off = np.concatenate([[aim], np.zeros(len(nuts))])
        weight = np.concatenate([[RELIEF_WEIGHT], np.full(len(nuts), NUT_WEIGHT)])
        return np.vstack([row, nuts]) @ self._ways, off, weight

    def _held(self, relief_mm: float | None) -> tuple[Array, Array]:
        """Rows over the ways and room: relief is within reach, or where it is held."""
        relief, row = relief_of(self.board)
        slope = row @ self._ways
        low, high = self.relief_reach if relief_mm is None else (relief_mm, relief_mm)
        # Without a rod nothing here changes the relief, and a limit on it could only be in the way.
        if not np.any(np.abs(slope) > 1e-9):
            return np.zeros((0, len(slope))), np.zeros(0)
        return np.stack([slope, -slope]), np.array([high - relief, relief - low])

    def _solved(self, cost: Array, rows: Array, room: Array, down: Array) -> Array:
        """Return the change of the state that costs least."""
        from scipy.optimize import linprog

        quiet, quiet_room = self._quiet
        quiet = np.hstack([quiet, np.zeros((len(quiet), len(cost) - quiet.shape[1]))])
        found = linprog(
            cost,
            A_ub=np.vstack([quiet, rows]),
            b_ub=np.concatenate([quiet_room, room]),
            bounds=[(float(low), FURTHEST_MM) for low in down],
            method="highs",
        )
        if not found.success:
            none = mark("no set-up is free of buzz at {strength} with {margin_mm:g} mm to spare")
            low, high = self.relief_reach
            raise CorrectInputError(
                tr(none, strength=tr(self.strength), margin_mm=self.margin_mm),
                tr(
                    "relief from {low_mm:.2f} to {high_mm:.2f} mm and saddles within 8 mm of where they are",
                    low_mm=low,
                    high_mm=high,
                ),
                tr("level the crowns, or ask for a lighter strength"),
            )
        moved = np.asarray(found.x, dtype=np.float64)
        return np.asarray(self._ways @ moved[: self._ways.shape[1]])

    def _told(self, change: Array, offer: Offer | None = None, lows: Sequence[float] = ()) -> Lowest:
        before = self.board.picture
        limits, first = self.limits, before.board.first
        tight = np.flatnonzero(limits.rows @ change - limits.lack_mm < BINDING_MM)
        holding = tuple(
            Limit(
                int(limits.string[i]) + 1,
                int(limits.stop[i]) if limits.stop[i] > first[limits.string[i]] else 0,
                int(limits.crown[i]),
            )
            for i in tight
        )
        told = replace(
            present(picture_of(before.board, before.mean + change)),
            limits=holding,
            nut_raised_mm=change[before.layout["nut_height"]],
            saddle_raised_mm=change[before.layout["saddle_height"]],
        )
        return told if offer is None else _with_other_holds(told, before, offer, lows)


def _with_other_holds(told: Lowest, before: Picture, offer: Offer, lows: Sequence[float]) -> Lowest:
    """Return a set-up with the strings that no note holds up, by what does."""
    first = before.board.first
    # An open string that its slot was raised for is held up there: its saddle is not.
    by_note = {
        one.string - 1
        for one in told.limits
        if one.stop or first[one.string - 1] or told.nut_raised_mm[one.string - 1] < BINDING_MM
    }
    free = [one for one in range(len(first)) if one not in by_note]
    at_usual = [one for one in free if told.action_mm[one] < offer.least_mm[one] + BINDING_MM]
    least = furthest(saddle_levers(before), lows)[before.layout["saddle_height"]]
    at_end = [
        one for one in free if one not in at_usual and told.saddle_raised_mm[one] < least[one] + BINDING_MM
    ]
    return replace(told, at_usual=tuple(one + 1 for one in at_usual), at_end=tuple(one + 1 for one in at_end))


def furthest(levers: Sequence[Lever], ends: Sequence[float]) -> Array:
    """Return the state's change with every lever at its end."""
    return np.asarray(sum(lever.direction * end for lever, end in zip(levers, ends, strict=True)))


def programme(picture: Picture, playing: Playing, strength: str, margin_mm: float = 0.02) -> Programme:
    """Return the programme of a state: at `strength` no touch is heard, with `margin_mm` left everywhere.

    Raises:
        CorrectInputError: a strength that is not known.
    """
    board = board_notes(picture)
    return Programme(board, floors_of(board, playing, strength, margin_mm, np.inf), strength, margin_mm)


def lowest(
    picture: Picture,
    playing: Playing,
    strength: str,
    margin_mm: float = 0.02,
    relief_mm: float | None = None,
) -> Lowest:
    """The lowest action at which no touch is heard at `strength`, with `margin_mm` left everywhere, however low.

    Nut slots and saddles are free; relief as far as the rod can still be turned. With `relief_mm` given, relief is
    held there.

    Raises:
        CorrectInputError: nothing within reach is free of buzz, or a strength that is not known.
    """
    return programme(picture, playing, strength, margin_mm).lowest(relief_mm)


def trade_reliefs(reach: tuple[float, float]) -> tuple[float, ...]:
    """Return the reliefs at which action against relief is told, mm: even steps, between the ends of what a rod gives.

    One alone where the rod gives no other.
    """
    low, high = reach
    top = min(high, max(TRADE_TO_MM, low + TRADE_SPAN_MM))
    steps = np.arange(0.0, top, TRADE_STEP_MM)
    inside = steps[(steps > low + SAME_RELIEF_MM) & (steps < top - SAME_RELIEF_MM)]
    return tuple(sorted({low, *(float(one) for one in inside), top}))


def levelled(picture: Picture) -> tuple[Picture, tuple[int, ...]]:
    """The state with every crown above the middle one taken down to it, and the frets that this touches."""
    layout, mean = picture.layout, picture.mean.copy()
    crown = mean[layout["crown"]]
    level = float(np.median(crown))
    reached = np.abs(mean[layout["crown_tilt"]])
    high = np.flatnonzero(crown + reached > level + LEVELLED_FROM_MM)
    mean[layout["crown"][high]] = np.minimum(crown[high], level)
    mean[layout["crown_tilt"][high]] = 0.0
    return picture_of(picture.board, mean), tuple(int(one) + 1 for one in high)
