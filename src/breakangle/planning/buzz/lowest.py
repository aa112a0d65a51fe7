"""The lowest set-up that is free of buzz at a strength: a linear programme over the same gaps.

Gaps are linear in relief, nut and saddle heights, and a string's swing is linear in the height of the
pluck. So "no touch is heard" is a list of linear conditions on the state, and the lowest action under them is
one programme.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr
from breakangle.planning.buzz.contact_notes import BoardNotes, board_notes
from breakangle.planning.buzz.culprit import relief_direction
from breakangle.planning.buzz.no_buzz import Floors, floors_of
from breakangle.planning.kinds.registry import adjustment_kinds
from breakangle.planning.state.picture import Picture, picture_of
from breakangle.reference.strength import Playing

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
# Where nothing else is said below: chosen: bounds of what is looked for, and what breaks ties.
MOST_RELIEF_MM = 0.8
HEIGHT_KINDS = ("rod", "nut-slot", "saddle-height")
NUT_WEIGHT, RELIEF_WEIGHT = 0.05, 0.01
"""Against one mm of action: lower nuts and less relief only break ties."""
# Where nothing else is said below: chosen: bounds of what is looked for, and what breaks ties.
FURTHEST_MM = 8.0
# Chosen: rounding.
BINDING_MM = 1e-6
LEVELLED_FROM_MM = 0.01


@dataclass(frozen=True)
class Limit:
    """A note that holds a string up: it would be heard next. `string` from 1, `stop` 0 when open."""

    string: int
    stop: int
    crown: int


@dataclass(frozen=True)
class Lowest:
    """The lowest set-up: its state, and what limits it; arrays by string (S,), mm.

    Action is the gap over the 12th with the first fret held (open on a string with its own nut), nut
    clearance the gap of the open string over its first crown. `relief_mm` is the sag between first and
    joint fret.
    """

    picture: Picture
    relief_mm: float
    action_mm: Array
    nut_mm: Array
    limits: tuple[Limit, ...]


@dataclass(frozen=True)
class _Measures:
    """Rows over the state of the figures a set-up is told by."""

    board: BoardNotes
    action: Indices
    action_crown: Indices
    open: Indices
    open_crown: Indices

    def of(self, notes: Indices, crowns: Indices) -> tuple[Array, Array]:
        """Gaps now (S,) and their rows (S, state)."""
        return self.board.notes.gap_mm[notes, crowns], self.board.gap_rows[notes, crowns]


def _measures(board: BoardNotes) -> _Measures:
    first = board.picture.board.first
    frets = board.picture.board.fret_count
    strings = range(len(first))
    at = {(int(s), int(n)): i for i, (s, n) in enumerate(zip(board.string, board.stop, strict=True))}
    held = [1 if first[s] == 0 and frets > 1 else int(first[s]) for s in strings]
    return _Measures(
        board,
        np.array([at[s, held[s]] for s in strings]),
        np.array([min(int(first[s]) + 12, frets) - 1 for s in strings]),
        np.array([at[s, int(first[s])] for s in strings]),
        np.array([int(first[s]) for s in strings]),
    )


def relief_of(board: BoardNotes) -> tuple[float, Array]:
    """Sag at the middle between first and joint fret, mm, mean over the strings, and its row (state,).

    Of the neck alone: what single crowns are out of line is left out.
    """
    found = board.picture.board
    joint = found.instrument.joint_fret
    if joint < 3:
        return 0.0, np.zeros(board.picture.layout.size)
    along, height, rows = found.along_mm, board.picture.height_mm, board.picture.height_rows
    middle = (1 + joint) // 2
    w = ((along[:, middle] - along[:, 1]) / (along[:, joint] - along[:, 1]))[:, None]
    row = (1 - w) * rows[:, 1] + w * rows[:, joint] - rows[:, middle]
    sag = (1 - w[:, 0]) * height[:, 1] + w[:, 0] * height[:, joint] - height[:, middle]
    crowns = np.concatenate([board.picture.layout[one] for one in ("crown", "crown_tilt", "crown_own")])
    sag = sag - row[:, crowns] @ board.picture.mean[crowns]
    row[:, crowns] = 0.0
    whole = found.first == 0
    return float(sag[whole].mean()), np.asarray(row[whole].mean(axis=0))


def _directions(board: BoardNotes) -> Array:
    """Ways in which rod, nut slots and saddles can change the state, shape (state, J)."""
    found = [
        relief_direction(board) if name == "rod" else lever.direction
        for name in HEIGHT_KINDS
        for lever in adjustment_kinds()[name].levers(board.picture)
    ]
    return np.stack(found, axis=1)


def lowest(
    picture: Picture,
    playing: Playing,
    strength: str,
    margin_mm: float = 0.02,
    relief_mm: float | None = None,
) -> Lowest:
    """The lowest action at which no touch is heard at `strength`, with `margin_mm` left everywhere.

    Relief, nut slots and saddles are free; the reach of this rod and these screws is not looked at. With
    `relief_mm` given, relief is held there.

    Raises:
        CorrectInputError: nothing within reach is free of buzz, or a strength that is not known.
    """
    from scipy.optimize import linprog

    board = board_notes(picture)
    ways = _directions(board)
    limits = floors_of(board, playing, strength, margin_mm, np.inf)
    relief, relief_row = relief_of(board)
    measures = _measures(board)
    _, action_rows = measures.of(measures.action, measures.action_crown)
    _, nut_rows = measures.of(measures.open, measures.open_crown)
    cost = action_rows.sum(axis=0) + NUT_WEIGHT * nut_rows.sum(axis=0) + RELIEF_WEIGHT * relief_row
    slope = relief_row @ ways
    low, high = (0.0, MOST_RELIEF_MM) if relief_mm is None else (relief_mm, relief_mm)
    # Without a rod nothing here changes the relief, and a limit on it could only be in the way.
    bends = np.any(np.abs(slope) > 1e-9)
    relief_rows, relief_room = ([slope, -slope], [high - relief, relief - low]) if bends else ([], [])
    found = linprog(
        cost @ ways,
        A_ub=np.array([*(-limits.rows @ ways), *relief_rows]),
        b_ub=np.array([*-limits.lack_mm, *relief_room]),
        bounds=(-FURTHEST_MM, FURTHEST_MM),
        method="highs",
    )
    if not found.success:
        none = mark("no set-up is free of buzz at {strength} with {margin_mm:g} mm to spare")
        raise CorrectInputError(
            tr(none, strength=tr(strength), margin_mm=margin_mm),
            tr("relief from 0 to 0.8 mm and saddles within 8 mm of where they are"),
            tr("level the crowns, or ask for a lighter strength"),
        )
    change = ways @ np.asarray(found.x, dtype=np.float64)
    reached = picture_of(picture.board, picture.mean + change)
    tight = np.flatnonzero(limits.rows @ change - limits.lack_mm < BINDING_MM)
    return _told(reached, limits, tight)


def _told(reached: Picture, limits: Floors, tight: Indices) -> Lowest:
    board = board_notes(reached)
    measures, first = _measures(board), reached.board.first
    holding = tuple(
        Limit(
            int(limits.string[i]) + 1,
            int(limits.stop[i]) if limits.stop[i] > first[limits.string[i]] else 0,
            int(limits.crown[i]),
        )
        for i in tight
    )
    return Lowest(
        reached,
        relief_of(board)[0],
        measures.of(measures.action, measures.action_crown)[0],
        measures.of(measures.open, measures.open_crown)[0],
        holding,
    )


def present(picture: Picture) -> Lowest:
    """The set-up as it is, in the same figures."""
    nothing = Floors(*(np.zeros((0, 1)), *(np.zeros(0),) * 2, *(np.zeros(0, dtype=np.intp),) * 3))
    return _told(picture, nothing, np.zeros(0, dtype=np.intp))


def trade(
    picture: Picture, playing: Playing, strength: str, relief_mm: Sequence[float], margin_mm: float = 0.02
) -> tuple[Lowest, ...]:
    """The lowest set-up at each relief: the curve of action against relief."""
    return tuple(lowest(picture, playing, strength, margin_mm, one) for one in relief_mm)


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
