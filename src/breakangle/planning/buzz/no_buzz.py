"""Nothing heard at a strength, as linear conditions on the state; and where a set-up that is wanted breaks them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.words.speech import tr
from breakangle.planning.buzz.contact_notes import BoardNotes, board_notes, quiet_depths
from breakangle.planning.state.picture import Picture
from breakangle.reference.strength import Playing

Array = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Floors:
    """Conditions that keep notes from being heard: `rows` (M, state) @ state is at least `least` (M,), mm.

    `lack_mm` (M,) is what the present state lacks of each (negative: it has that much to spare). `string`
    counts from 0, `stop` is the point that stops it, `crown` the fret that would be touched.
    """

    rows: Array
    least: Array
    lack_mm: Array
    string: Indices
    stop: Indices
    crown: Indices


def floors(
    picture: Picture, playing: Playing, strength: str, margin_mm: float = 0.0, within_mm: float = np.inf
) -> Floors:
    """Linear conditions on the state for no touch to be heard at `strength`, with `margin_mm` to spare.

    Conditions with more than `within_mm` to spare now are left out: a plan that moves less cannot break them.

    Raises:
        CorrectInputError: a strength that is not light, medium or heavy.
    """
    return floors_of(board_notes(picture), playing, strength, margin_mm, within_mm)


def floors_of(
    board: BoardNotes, playing: Playing, strength: str, margin_mm: float, within_mm: float
) -> Floors:
    """The same, where the notes of the picture are at hand already."""
    needed = playing.strengths.height_mm(strength) * quiet_depths(board.picture.board, playing)
    lack = needed + margin_mm - board.notes.gap_mm
    note, column = np.nonzero(np.isfinite(lack) & (np.nan_to_num(lack, nan=-np.inf) > -within_mm))
    rows = board.gap_rows[note, column]
    lacking = lack[note, column]
    return Floors(
        rows, rows @ board.picture.mean + lacking, lacking, board.string[note], board.stop[note], column + 1
    )


@dataclass(frozen=True)
class Conflict:
    """One string of a wanted set-up that would be heard: where worst, and which action would free it here.

    `string` from 1, `stop` 0 when open. `action_mm` is the gap over fret 12 of its own count, with the
    first fret held, that quietens every note of the string; None where no saddle height does.
    """

    string: int
    stop: int
    crown: int
    short_mm: float
    action_mm: float | None

    def sentence(self, strength: str) -> str:
        """The conflict in plain words."""
        place = tr("open") if self.stop == 0 else tr("at fret {stop}", stop=self.stop)
        what = tr(
            "String {string} {place} would be heard on crown {crown}, {short_mm:.2f} mm too low",
            string=self.string,
            place=place,
            crown=self.crown,
            short_mm=self.short_mm,
        )
        if self.action_mm is None:
            return tr(
                "{what} at {strength} play, and no saddle height would quieten it at this relief.",
                what=what,
                strength=tr(strength),
            )
        return tr(
            "{what} at {strength} play: at this relief its action must be {action_mm:.2f} mm or more.",
            what=what,
            strength=tr(strength),
            action_mm=self.action_mm,
        )


def conflicts(
    picture: Picture, playing: Playing, strength: str, least_mm: float = 0.005
) -> tuple[Conflict, ...]:
    """Strings that lack more than `least_mm` to be unheard in the set-up of `picture`, worst first.

    Give it the state that the targets lead to: what comes back is where targets and "no buzz" cannot both
    be had.

    Raises:
        CorrectInputError: a strength that is not light, medium or heavy.
    """
    board = board_notes(picture)
    found = floors_of(board, playing, strength, 0.0, np.inf)
    out = []
    for string in np.unique(found.string[found.lack_mm > least_mm]):
        own = np.flatnonzero(found.string == string)
        worst = own[np.argmax(found.lack_mm[own])]
        first = int(picture.board.first[string])
        out.append(
            Conflict(
                int(string) + 1,
                int(found.stop[worst]) if found.stop[worst] > first else 0,
                int(found.crown[worst]),
                float(found.lack_mm[worst]),
                _freeing_action_mm(board, found, own, int(string)),
            )
        )
    return tuple(sorted(out, key=lambda one: -one.short_mm))


def _freeing_action_mm(board: BoardNotes, found: Floors, own: Indices, string: int) -> float | None:
    """Lowest action of one string, mm, at which none of its notes is heard, by its saddle alone."""
    picture = board.picture
    saddle = picture.layout["saddle_height"][string]
    gain, lack = found.rows[own, saddle], found.lack_mm[own]
    if np.any((gain <= 1e-9) & (lack > 0.0)):
        return None
    raised = float(np.max(np.where(gain > 1e-9, lack / np.maximum(gain, 1e-9), 0.0)))
    first, frets = int(picture.board.first[string]), picture.board.fret_count
    held = 1 if first == 0 and frets > 1 else first
    note = int(np.flatnonzero((board.string == string) & (board.stop == held))[0])
    column = min(first + 12, frets) - 1
    return float(board.notes.gap_mm[note, column] + raised * board.gap_rows[note, column, saddle])
