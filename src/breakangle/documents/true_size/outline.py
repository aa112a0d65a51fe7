"""Where strings and frets run on the flat board, seen from above: for one scale, and for a scale of each string.

Scales are taken along the centre line. Where every string has its own, one fret is chosen that stands square to
the centre line; a fret is then the straight line through its places on the two outer strings, and every string
whose scale lies in a straight progression between those two meets it exactly. [derived]
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakangle.documents.true_size.geometry import Line, Point, Role
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.state.board import Board, board_of

Array = NDArray[np.float64]
SQUARE_FRET = 7  # where many makers set it; common practice, no source
STRAIGHT_MM = 0.02  # what a saw kerf hides; common practice, no source


@dataclass(frozen=True)
class Outline:
    """Strings and frets in the drawing's plane. `offset_mm` (S,): where each string's fret 0 is, along x.

    `bass`, `treble`: indices of the outer strings. `edge_mm`: from an outer string to the edge of the board.
    """

    board: Board
    offset_mm: Array
    bass: int
    treble: int
    edge_mm: float

    @property
    def fanned(self) -> bool:
        """Return whether the strings have different scales."""
        scales = self.board.along_mm[:, -1]
        return bool(np.ptp(scales) > 0.0)

    def point_mm(self, string: int, place: int) -> Point:
        """Return where fret `place` (0 the nut, last the saddle) crosses `string`, both as indices."""
        x = float(self.offset_mm[string] + self.board.along_mm[string, place])
        return x, float(self.board.sideways_mm[string, place])

    def fret(self, place: int, over_mm: float = 0.0, role: Role = "mark") -> Line:
        """Return a fret as a line from the bass edge of the board to its treble edge, `over_mm` longer at both."""
        low, high = self.point_mm(self.bass, place), self.point_mm(self.treble, place)
        reach = self.edge_mm + over_mm
        if self.bass == self.treble:
            return Line((low[0], low[1] - reach), (high[0], high[1] + reach), role)
        lean = (high[0] - low[0]) / (high[1] - low[1])
        return Line((low[0] - lean * reach, low[1] - reach), (high[0] + lean * reach, high[1] + reach), role)

    def edges(self, first: int, last: int, role: Role = "cut") -> tuple[Line, Line]:
        """Return the bass and the treble edge of the board between two places."""
        start, end = self.fret(first), self.fret(last)
        return Line(start.start_mm, end.start_mm, role), Line(start.end_mm, end.end_mm, role)

    def unlike_mm(self) -> float:
        """Return how far any string's fret lies from the straight line of that fret, in mm, at most."""
        worst = 0.0
        for place in range(self.board.fret_count + 1):
            line = self.fret(place)
            (x0, y0), (x1, y1) = line.start_mm, line.end_mm
            for string in range(self.board.string_count):
                x, y = self.point_mm(string, place)
                worst = max(worst, abs(x0 + (x1 - x0) * (y - y0) / (y1 - y0) - x))
        return worst


def outline_of(service: Service, edge_mm: float, square_fret: int = 0) -> Outline:
    """Return the outline of the service's instrument.

    Args:
        service: whose instrument it is.
        edge_mm: from the middle of an outer string to the edge of the board.
        square_fret: the fret that stands square to the centre line, where the strings' scales differ.

    Raises:
        CorrectInputError: a fret the board does not have, or scales that no straight fret fits.
    """
    board = board_of(service.instrument_now(), service.reference_hz)
    if square_fret > board.fret_count:
        raise CorrectInputError(
            tr("fret {square_fret} is to stand square", square_fret=square_fret),
            tr("this board has {fret_count} frets", fret_count=board.fret_count),
            "",
        )
    side = board.sideways_mm[:, 0]
    bass, treble = int(np.argmin(side)), int(np.argmax(side))
    middle = float(np.mean(board.along_mm[[bass, treble], square_fret]))
    found = Outline(board, middle - board.along_mm[:, square_fret], bass, treble, edge_mm)
    if found.unlike_mm() > STRAIGHT_MM:
        raise CorrectInputError(
            tr("a straight fret would miss a string by {unlike_mm:.2f} mm", unlike_mm=found.unlike_mm()),
            tr("the scales of the inner strings lie in a straight progression between the outer two"),
            tr("correct scale_mm of the strings"),
        )
    return found
