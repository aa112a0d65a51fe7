"""Notes that touch a crown at a strength of play, heard or not, from the heights alone; the map says the same."""

from dataclasses import dataclass

import numpy as np

from breakangle.model.words.speech import mark, tr
from breakangle.planning.buzz.contact_notes import board_notes, swing_depths, unheard_need
from breakangle.planning.buzz.culprit import Cause, cause_of
from breakangle.planning.state.picture import Picture
from breakangle.reference.strength import Playing

NO_CHANGE = mark("no single change")


@dataclass(frozen=True)
class Touch:
    """A note that touches: `string` from 1, `stop` 0 when open, on `crown`, which it lacks `short_mm`; whose fault.

    `heard`: it goes so far below the crown that the touch is heard.
    """

    string: int
    stop: int
    crown: int
    short_mm: float
    cause: Cause | None
    heard: bool = True


@dataclass(frozen=True)
class Touching:
    """All notes that touch at one strength, worst first; `own`: the shop has set that strength by its own ear."""

    strength: str
    own: bool
    notes: tuple[Touch, ...]

    @property
    def heard(self) -> tuple[Touch, ...]:
        """Return the notes whose touch is heard, worst first: a graze that nobody hears is no complaint."""
        return tuple(one for one in self.notes if one.heard)

    def faults(self) -> tuple[tuple[str, int, float], ...]:
        """Return what is heard at fault: its name, how many notes it would clear, the most it takes, mm; most first."""
        found: dict[str, list[float]] = {}
        for one in self.heard:
            name = tr(NO_CHANGE) if one.cause is None else one.cause.name()
            found.setdefault(name, []).append(0.0 if one.cause is None else one.cause.change_mm)
        rows = ((name, len(amounts), max(amounts)) for name, amounts in found.items())
        return tuple(sorted(rows, key=lambda one: -one[1]))


def touching(picture: Picture, playing: Playing, strength: str) -> Touching:
    """Return the notes that touch a crown at `strength`.

    Raises:
        CorrectInputError: a strength that is not light, medium or heavy.
    """
    board = board_notes(picture)
    height_mm = playing.strengths.height_mm(strength)
    depths = swing_depths(picture.board, playing)
    lack = height_mm * depths - board.notes.gap_mm
    lack = np.where(np.isfinite(lack), lack, -np.inf)
    rests = np.any(board.notes.gap_mm <= 0.0, axis=1)
    worst = lack.max(axis=1)
    touches = (worst > 0.0) | rests
    heard = (worst >= height_mm * playing.classes.heard_from_depth_ratio) | rests
    first = picture.board.first
    found = []
    for note in np.flatnonzero(touches):
        string, stop = int(board.string[note]), int(board.stop[note])
        others = (board.string == string) & (np.arange(len(touches)) != note)
        only_open = stop == int(first[string]) and not touches[others].any()
        quiet = unheard_need(playing, height_mm, depths[note], board.notes.gap_mm[note])
        need = np.where(np.isfinite(quiet), quiet, -np.inf) if heard[note] else lack[note]
        cause = cause_of(board, int(note), need, only_open)
        crown = int(np.argmax(lack[note])) + 1
        at = stop if stop > first[string] else 0
        found.append(Touch(string + 1, at, crown, float(worst[note]), cause, bool(heard[note])))
    return Touching(strength, playing.own, tuple(sorted(found, key=lambda one: -one.short_mm)))
