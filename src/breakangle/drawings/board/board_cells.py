"""What a map of the board shows in each cell: a figure, how far from good it is, and a sign for that."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from breakangle.drawings.figures import cents_number, length_number, length_text, plain, unit_word
from breakangle.model.words.speech import mark, tr
from breakangle.planning.buzz.buzz_map import BuzzMap, NoteBuzz
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.known_enough import known_enough
from breakangle.planning.state.told_spread import cents_spread, clearance_spread_mm

Sign = Literal["", "up", "up-open", "down", "down-open", "dot", "ring", "cross", "square"]
Tint = Literal["cell", "cell-warm-1", "cell-warm-2", "cell-warm-3", "cell-cool-1", "cell-cool-3"]
NEAR_TOLERANCES, FAR_TOLERANCES = 1.0, 2.5
DOUBT_FROM = 0.05


@dataclass(frozen=True)
class Cell:
    """One cell: the figure in it, its tint (`strong` ones end in 3), the sign beside it, and the same in words."""

    text: str
    tint: Tint = "cell"
    sign: Sign = ""
    words: str = ""

    @property
    def strong(self) -> bool:
        """Return whether it asks to be seen first."""
        return self.tint.endswith("3")


@dataclass(frozen=True)
class CellMap:
    """All cells of a map by (string from 1, fret); an open string's cell stands at its own nut, fret 0 or more.

    `key`: tint, sign and meaning of each level. `unit` heads the figures. Not `counted`: its description has no counts.
    """

    title: str
    unit: str
    cells: Mapping[tuple[int, int], Cell]
    key: tuple[tuple[Tint, Sign, str], ...]
    notes: tuple[str, ...] = field(default=())
    counted: bool = True


def intonation_cells(state: Estimate, tolerance_cents: float, wanted_cents: float = 0.0) -> CellMap:
    """Return every stopped note from its tempered pitch, in cents, the open string in tune.

    Where what has been read leaves open on which side of the tolerance a note is, its cell says so, in whole cents.
    """
    state = state.stated
    spread = cents_spread(state.picture, state.belief)
    told = known_enough(state.picture.cents - wanted_cents, tolerance_cents, spread)
    cells = {}
    for (string, fret), cents in _known(state.picture.cents, state.board.first):
        cells[string, fret] = (
            _cents_cell(cents, cents - wanted_cents, tolerance_cents)
            if told[string - 1, fret - 1]
            else Cell(cents_number(cents, 0), sign="ring", words=tr("not sure"))
        )
    far = FAR_TOLERANCES * tolerance_cents
    return CellMap(
        title=tr("Intonation"),
        unit="cents",
        cells=cells,
        key=(
            ("cell", "", tr("within {plain} cents", plain=plain(tolerance_cents, 1))),
            ("cell-warm-1", "up-open", tr("sharp")),
            ("cell-warm-3", "up", tr("sharp by more than {plain}", plain=plain(far, 1))),
            ("cell-cool-1", "down-open", tr("flat")),
            ("cell-cool-3", "down", tr("flat by more than {plain}", plain=plain(far, 1))),
            ("cell", "ring", tr("not sure: what has been read cannot tell")),
        ),
    )


def _cents_cell(cents: float, off: float, tolerance: float) -> Cell:
    share = round(abs(off), 1) / tolerance
    text = cents_number(cents)
    if share <= NEAR_TOLERANCES:
        return Cell(text, words=tr("within tolerance"))
    sharp, far = off > 0, share > FAR_TOLERANCES
    sign: Sign = ("up" if far else "up-open") if sharp else ("down" if far else "down-open")
    tint: Tint = "cell-warm-1" if sharp else "cell-cool-1"
    if far:
        tint = "cell-warm-3" if sharp else "cell-cool-3"
    return Cell(text, tint, sign, _off_words(far, sharp))


def clearance_cells(state: Estimate, units: str) -> CellMap:
    """Return the open string's clearance over every crown; none where it lies on the crown."""
    state = state.stated
    spread = clearance_spread_mm(state.picture, state.belief)
    cells = {}
    for (string, fret), mm in _known(state.picture.clearance_mm, state.board.first):
        doubtful = 2.0 * spread[string - 1, fret - 1] > mm
        if mm <= 0.0:
            cells[string, fret] = Cell(
                length_number(0.0, units), "cell-warm-3", "cross", tr("lies on the crown")
            )
        elif doubtful:
            cells[string, fret] = Cell(
                length_number(mm, units), "cell-warm-1", "ring", tr("may lie on the crown")
            )
        else:
            cells[string, fret] = Cell(length_number(mm, units), words=tr("clear"))
    return CellMap(
        title=tr("Clearance of the open strings"),
        unit=unit_word(units),
        cells=cells,
        key=(
            ("cell", "", tr("clear")),
            ("cell-warm-1", "ring", tr("may touch: what has been read cannot tell")),
            ("cell-warm-3", "cross", tr("lies on the crown")),
        ),
    )


NOT_BY_EAR = mark("strengths of play not set by this shop's ear")
_BUZZ: dict[str, tuple[Tint, Sign, str]] = {
    "trace": ("cell-warm-1", "up-open", mark("touches, not heard")),
    "audible": ("cell-warm-2", "up", mark("heard")),
    "choking": ("cell-warm-3", "cross", mark("choked")),
}


def _off_words(far: bool, sharp: bool) -> str:
    if far:
        return tr("much too sharp") if sharp else tr("much too flat")
    return tr("sharp") if sharp else tr("flat")


def buzz_cells(
    found: BuzzMap, strength: str, first: Mapping[int, int], units: str, counted: bool = True
) -> CellMap:
    """Return the chance (percent) that each note touches a crown when played at `strength`.

    `first`: each string's own nut, where its open note's cell stands. Not `counted`: signs alone, no figures.
    """
    cells = {}
    for note in found.at(strength):
        cells[note.string, note.stop or first.get(note.string, 0)] = _buzz_cell(note, counted)
    height = length_text(found.playing.strengths.height_mm(strength), units)
    return CellMap(
        title=tr("Buzz at {strength} play", strength=tr(strength)),
        unit=tr("chance in percent that the note touches a crown")
        if counted
        else tr("signs where it may touch"),
        cells=cells,
        key=(
            ("cell", "", tr("clear")),
            ("cell", "ring", tr("clear, but not surely")),
            *((tint, sign, tr(words)) for tint, sign, words in _BUZZ.values()),
        ),
        notes=(
            tr("{strength} play: plucked {height} from rest", strength=tr(strength), height=height),
            *(() if found.playing.own else (tr(NOT_BY_EAR),)),
        ),
        counted=counted,
    )


def _buzz_cell(note: NoteBuzz, counted: bool) -> Cell:
    percent = f"{100.0 * note.probability:.0f}" if counted else ""
    if note.verdict == "clear":
        doubtful = note.probability >= DOUBT_FROM
        return Cell(
            percent, "cell", "ring" if doubtful else "", tr("clear, not surely") if doubtful else tr("clear")
        )
    tint, sign, words = _BUZZ[note.verdict]
    crown = tr(", on crown {crown}", crown=note.crown) if note.crown is not None else ""
    return Cell(percent, tint, sign, words + crown)


def _known(values: np.ndarray, first: np.ndarray) -> list[tuple[tuple[int, int], float]]:
    """Return (string, fret) and value of every stopped note beyond each string's own nut."""
    return [
        ((string + 1, fret + 1), float(values[string, fret]))
        for string in range(values.shape[0])
        for fret in range(values.shape[1])
        if fret + 1 > first[string] and np.isfinite(values[string, fret])
    ]
