"""How high a shop really plucks: from notes that were heard to buzz or not, and from how loud takes are."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.planning.buzz.contact_notes import board_notes, quiet_depths
from breakangle.planning.state.picture import Picture
from breakangle.reference.strength import STRENGTHS, Playing

Array = NDArray[np.float64]
Place = tuple[int, int]
"""String from 1, and the fret that stops it (0: open)."""


@dataclass(frozen=True)
class PlayedHeight:
    """Heights of the pluck, mm, that the notes leave possible; those in `against` contradict the rest."""

    low_mm: float
    high_mm: float
    against: tuple[Place, ...]

    @property
    def middle_mm(self) -> float:
        """Middle of what the notes leave, mm; the one bound there is where the other is missing."""
        if not np.isfinite(self.high_mm):
            return self.low_mm
        return 0.5 * (self.low_mm + self.high_mm) if self.low_mm > 0.0 else self.high_mm


def played_height(
    picture: Picture, playing: Playing, buzzed: Sequence[Place], clean: Sequence[Place]
) -> PlayedHeight:
    """The pluck height at which exactly these notes buzz, as nearly as one height can tell them apart.

    Raises:
        CorrectInputError: a note that this instrument does not have, or none given.
    """
    if not buzzed and not clean:
        raise CorrectInputError(
            tr("no note was told to buzz or to be clean"), "", tr("name at least one of either")
        )
    board = board_notes(picture)
    with np.errstate(invalid="ignore", divide="ignore"):
        onset = np.nanmin(board.notes.gap_mm / quiet_depths(picture.board, playing), axis=1)
    at = {
        (int(s) + 1, int(n) if n > picture.board.first[s] else 0): float(onset[i])
        for i, (s, n) in enumerate(zip(board.string, board.stop, strict=True))
    }
    for place in [*buzzed, *clean]:
        if place not in at:
            raise CorrectInputError(
                tr(
                    "string {place} at fret {place_2} has no crown beyond it, or is not there",
                    place=place[0],
                    place_2=place[1],
                ),
                tr(
                    "strings 1 to {string_count}, frets 0 to {fret_count}",
                    string_count=picture.board.string_count,
                    fret_count=picture.board.fret_count - 1,
                ),
            )
    sounds = [(at[place], True, place) for place in buzzed] + [(at[place], False, place) for place in clean]
    edges = sorted({0.0, *(one[0] for one in sounds), np.inf})
    spans = list(pairwise(edges))
    wrong = [[p for o, buzz, p in sounds if buzz != (o <= low)] for low, _ in spans]
    best = min(range(len(spans)), key=lambda i: len(wrong[i]))
    return PlayedHeight(*spans[best], tuple(wrong[best]))


def heights_from_levels(known_mm: float, known: str, level_db: Mapping[str, float]) -> dict[str, float]:
    """Heights of the strengths, mm, from how loud one note was at each, one height being known.

    Until a string touches, its loudness goes with the height of the pluck: 20 dB is a factor of ten.

    Raises:
        CorrectInputError: the known strength has no level.
    """
    if known not in level_db:
        raise CorrectInputError(
            tr("no level was given for {known}", known=known),
            tr("levels for {strengths}", strengths=", ".join(STRENGTHS)),
        )
    return {name: known_mm * 10.0 ** ((db - level_db[known]) / 20.0) for name, db in level_db.items()}
