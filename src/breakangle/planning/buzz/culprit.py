"""Whose fault a buzz is: the smallest change, in steps usual for its kind, that would free the note."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.words.speech import mark, tr
from breakangle.planning.buzz.contact_notes import BoardNotes

Array = NDArray[np.float64]

# Where nothing else is said below: common practice, no source.
# What a change of each kind is measured by, mm: common practice, no source.
CROWN_STEP_MM, NUT_STEP_MM, RELIEF_STEP_MM, ACTION_STEP_MM = 0.03, 0.05, 0.1, 0.25
PROUD_FROM_MM = 0.02
"""A crown this much above, or below, its neighbours is out of line."""


@dataclass(frozen=True)
class Cause:
    """What would free a note, of its touch or of being heard: `kind`, the crown's fret, and by how much, mm.

    `least_steps` is that change in steps of its kind; the smallest is the most likely fault.
    """

    kind: str
    fret: int | None
    change_mm: float
    least_steps: float

    def name(self) -> str:
        """What is at fault, in a few words."""
        return self.kind if self.fret is None else tr("{kind}, fret {fret}", kind=self.kind, fret=self.fret)

    def sentence(self) -> str:
        """What is at fault and what would free the note, in plain words."""
        amount = f"{max(self.change_mm, 0.01):.2f} mm"
        return {
            "proud crown": tr(
                "crown {fret} stands proud: {amount} off it would free the note",
                fret=self.fret,
                amount=amount,
            ),
            "low crown": tr("crown {fret} is worn low: it lacks {amount}", fret=self.fret, amount=amount),
            "nut slot": tr("the nut slot is low: {amount} more would free the note", amount=amount),
            "relief": tr("relief is short: {amount} more would free the note", amount=amount),
            "less relief": tr("relief is too much: {amount} less would free the note", amount=amount),
            "action": tr("the action is low: {amount} more at the saddle would free the note", amount=amount),
        }[self.kind]


def cause_of(board: BoardNotes, note: int, need_mm: Array, only_open: bool = False) -> Cause | None:
    """The likeliest fault of one touching note; None where no single change frees it.

    `need_mm` (F,) is how much gap each crown lacks not to be touched, or not to be heard; NaN where there is none.
    `only_open`: every stopped note of this string is clear, so relief and action are not to blame.
    """
    found = sorted(_candidates(board, note, need_mm, only_open), key=lambda one: one.least_steps)
    return found[0] if found else None


def _candidates(board: BoardNotes, note: int, need_mm: Array, only_open: bool) -> Iterator[Cause]:
    need = np.nan_to_num(need_mm, nan=-np.inf)
    string, stop = int(board.string[note]), int(board.stop[note])
    first = int(board.picture.board.first[string])
    proud, worst = board.out_of_line_mm[string], int(np.argmax(need))
    alone = np.all(np.delete(need, worst) <= 0.0)
    if alone and proud[worst] >= PROUD_FROM_MM and need[worst] <= proud[worst] + PROUD_FROM_MM:
        yield Cause(
            mark("proud crown"), worst + 1, float(need[worst]), float(need[worst]) / _crown_step(proud[worst])
        )
    layout = board.picture.layout
    if stop > first and -proud[stop - 1] >= PROUD_FROM_MM:
        lacking = _needed(board.gap_rows[note, :, layout["crown"][stop - 1]], need)
        if lacking is not None and lacking <= PROUD_FROM_MM - proud[stop - 1]:
            yield Cause(mark("low crown"), stop, lacking, lacking / _crown_step(-proud[stop - 1]))
    if stop == first:
        yield from _smooth(
            board, note, need, mark("nut slot"), _one(board, "nut_height", string), NUT_STEP_MM
        )
    if only_open:
        return
    yield from _smooth(board, note, need, "relief", relief_direction(board), RELIEF_STEP_MM)
    yield from _smooth(board, note, need, mark("less relief"), -relief_direction(board), RELIEF_STEP_MM)
    yield from _smooth(board, note, need, "action", _one(board, "saddle_height", string), ACTION_STEP_MM)


def _crown_step(out_of_line: float) -> float:
    """What a change of one crown is measured by, mm: its usual step, or all that levelling would take off it."""
    return max(CROWN_STEP_MM, float(out_of_line))


def _smooth(
    board: BoardNotes, note: int, need: Array, kind: str, direction: Array, step_mm: float
) -> Iterator[Cause]:
    change = _needed(board.gap_rows[note] @ direction, need)
    if change is not None:
        yield Cause(kind, None, change, change / step_mm)


def _needed(gain: Array, need: Array) -> float | None:
    """Least change that gives every crown its gap, `gain` mm of gap per mm of it; None: there is none."""
    low, high = 0.0, np.inf
    for wanted, per_mm in zip(need, gain, strict=True):
        if not np.isfinite(wanted):
            continue
        if per_mm > 1e-9:
            low = max(low, wanted / per_mm)
        elif wanted > 0.0:
            return None
        elif per_mm < -1e-9:
            high = min(high, wanted / per_mm)
    return float(low) if low <= high else None


def _one(board: BoardNotes, block: str, index: int) -> Array:
    direction = np.zeros(board.picture.layout.size)
    direction[board.picture.layout[block][index]] = 1.0
    return direction


def relief_direction(board: BoardNotes) -> Array:
    """Change of the state that gives 1 mm more sag between nut and joint, as this neck's rod bends it."""
    layout = board.picture.layout
    bend = board.picture.mean[layout["rod"]]
    shape = bend / bend[0] if abs(bend[0]) > 1e-9 else np.array([1.0, 0.0, 0.0])
    direction = np.zeros(layout.size)
    direction[layout["neck"]] = shape
    return direction
