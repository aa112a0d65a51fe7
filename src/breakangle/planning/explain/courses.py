"""Courses on one crown: where it serves all its strings best, and what each is left with whatever is done.

Nothing is learned here but through the state: what each string wants follows from its own readings, as far as they are
there, and from the tables before. Off where every string has a saddle or a crown of its own.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.model.words.message import Message
from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import capital, tr
from breakangle.physics.bridge.shared_crown import common_setback_mm, left_cents
from breakangle.planning.kinds.prior import shared_crowns
from breakangle.planning.state.picture import Picture

Array = NDArray[np.float64]
SAID_FROM_CENTS = 2.0  # less is not heard between two strings struck together; common practice, no source
OCTAVE_FRETS = 12  # exact: equal temperament


@dataclass(frozen=True)
class Crown:
    """One crown under the `strings` of a course: its best common setback (mm), and what each octave is left with."""

    strings: tuple[int, ...]
    setback_mm: float
    left_cents: tuple[float, ...]

    @property
    def most_cents(self) -> float:
        """Return how far off the worst-served string is left."""
        return max(map(abs, self.left_cents))

    def message(self) -> Message:
        """Return it as it is told."""
        rest = ", ".join(
            tr("{cents:+.1f} cents (string {string})", cents=cents, string=string)
            for string, cents in zip(self.strings, self.left_cents, strict=True)
        )
        values = {"strings": capital(strings_in_words(self.strings)), "left": rest.replace("-", "−")}
        about = tuple(f"string {one}" for one in self.strings)
        return Message(key="effects.course", values=values, about=about)


def wanted_setback_mm(picture: Picture) -> Array:
    """Return the setback at which each string's octave would be in tune by itself, in mm, (S,)."""
    board, places = picture.board, picture.layout["saddle_setback"]
    strings = np.arange(board.string_count)
    frets = np.minimum(board.first + OCTAVE_FRETS, board.fret_count) - 1
    cents, rows = picture.cents_at(strings, frets)
    return np.asarray(picture.mean[places] - cents / rows[strings, places])


def crowns(picture: Picture) -> tuple[Crown, ...]:
    """Return every crown that carries a course, as the strings stand in this state."""
    shared = shared_crowns(picture.board.instrument)
    if not shared:
        return ()
    wanted, length = wanted_setback_mm(picture), picture.board.open_length_mm
    found = []
    for strings in shared:
        index = np.array(strings) - 1
        common = common_setback_mm(wanted[index])
        left = left_cents(setback_mm=wanted[index], common_mm=common, length_mm=length[index])
        found.append(Crown(strings, common, tuple(float(one) for one in left)))
    return tuple(found)


def crown_messages(picture: Picture) -> tuple[Message, ...]:
    """Return what strings of courses are left with, worth saying, the worst first."""
    worth = [one for one in crowns(picture) if one.most_cents >= SAID_FROM_CENTS]
    return tuple(one.message() for one in sorted(worth, key=lambda one: -one.most_cents))
