"""The figures that a set-up is told by, with their rows over the state: action, open clearance, relief."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.buzz.contact_notes import BoardNotes
from breakangle.planning.kinds.registry import adjustment_kinds

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
MOST_RELIEF_MM = 0.8  # chosen: bound of what is looked for


@dataclass(frozen=True)
class Measures:
    """Which note and which crown give each string's action and the clearance of its open string, (S,) each."""

    board: BoardNotes
    action: Indices
    action_crown: Indices
    open: Indices
    open_crown: Indices

    @property
    def action_mm(self) -> Array:
        """Return every string's action, mm, (S,)."""
        return np.asarray(self.board.notes.gap_mm[self.action, self.action_crown])

    @property
    def open_mm(self) -> Array:
        """Return the gap of every open string over its first crown, mm, (S,)."""
        return np.asarray(self.board.notes.gap_mm[self.open, self.open_crown])

    @property
    def action_rows(self) -> Array:
        """Return d action / d state, (S, state)."""
        return np.asarray(self.board.gap_rows[self.action, self.action_crown])

    @property
    def open_rows(self) -> Array:
        """Return d open clearance / d state, (S, state)."""
        return np.asarray(self.board.gap_rows[self.open, self.open_crown])


def measures_of(board: BoardNotes) -> Measures:
    """Return where action (first fret held; open on a string with its own nut) and open clearance are found."""
    first = board.picture.board.first
    frets = board.picture.board.fret_count
    strings = range(len(first))
    at = {(int(s), int(n)): i for i, (s, n) in enumerate(zip(board.string, board.stop, strict=True))}
    held = [1 if first[s] == 0 and frets > 1 else int(first[s]) for s in strings]
    return Measures(
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


def relief_reach(board: BoardNotes) -> tuple[float, float]:
    """Return the least and the most relief that this rod can give, mm, as a plan may turn it; as it is without a rod.

    Never below a straight neck, nor above what is looked for, unless it cannot come out of there.
    """
    relief, row = relief_of(board)
    ends = [
        relief + float(row @ lever.direction) * turns
        for lever in adjustment_kinds()["rod"].levers(board.picture)
        for turns in (lever.low, lever.high)
    ]
    if not ends:
        return relief, relief
    low = min(max(0.0, min(ends)), max(ends))
    return low, max(low, min(MOST_RELIEF_MM, max(ends)))
