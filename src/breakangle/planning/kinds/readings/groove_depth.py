"""Groove depth: how deep a string has worn into a crown, from the crown beside it."""

from collections.abc import Sequence
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.model.reading import Reading
from breakangle.model.words.noun import Between, UncertaintyMm
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.crown_lines import mm_of, own_shares, shown_from_nothing
from breakangle.planning.kinds.kind import Prediction, ReadingKind
from breakangle.planning.state.crowns import OWN_SHARE, TILT_SHARE, own_crown_frets, scatter_of
from breakangle.planning.state.layout import OWN_CROWNS
from breakangle.planning.state.picture import Picture

Array = NDArray[np.float64]
USUAL_MM, USUAL_SPREAD_MM = 0.05, 0.05  # worth reading; common practice, no source
GAUGE_SPREAD_MM = 0.015  # feeler under an edge laid along the crown; common practice, no source


class GrooveDepth(Reading):
    """The depth in mm of the groove that `string` has worn into the crown of `fret`."""

    quantity: Literal["groove-depth"] = "groove-depth"
    fret: Annotated[int, Between(1, 36, "", whole=True)]
    mm: Annotated[float, Between(0.0, 1.0, "mm")]
    uncertainty_mm: UncertaintyMm | None = None


def predict(readings: Sequence[GrooveDepth], picture: Picture) -> Prediction:
    """Return how deep these grooves should be, mm: what a crown lies lower under its string than beside it.

    The crown beside the string is taken to be where the others' line is, as far out as crowns scatter.
    """
    board, layout = picture.board, picture.layout
    rows, own = np.zeros((len(readings), layout.size)), own_crown_frets(board)
    for index, one in enumerate(readings):
        rows[index, layout["crown"][one.fret - 1]] = -1.0
        rows[index, layout["crown_tilt"][one.fret - 1]] = -board.side_ratio[one.string - 1]
        for slot in np.flatnonzero(own[one.string - 1] == one.fret):
            rows[index, layout["crown_own"][(one.string - 1) * OWN_CROWNS + slot]] = -1.0
    scatter = scatter_of(board)
    beside = np.sqrt((OWN_SHARE + TILT_SHARE) * scatter.variance_mm2(scatter.rough_share))
    return Prediction(rows @ picture.mean, rows, np.full(len(readings), beside))


def _shares(readings: Sequence[GrooveDepth], picture: Picture) -> Array:
    return own_shares(readings, picture, -1.0)


KIND = ReadingKind(
    name="groove-depth",
    words=mark("depth of a groove in a crown"),
    unit="mm",
    decimals=2,
    model=GrooveDepth,
    how=mark(
        "Lay a short straight-edge along the crown, across the groove, and find the feeler that goes into it."
    ),
    gauge_spread=GAUGE_SPREAD_MM,
    surprise=0.15,
    value=mm_of,
    spread=lambda reading: reading.uncertainty_mm or GAUGE_SPREAD_MM,  # type: ignore[attr-defined]
    predict=predict,
    shown=shown_from_nothing,
    candidates=lambda instrument: [],
    usual_mm=(USUAL_MM, USUAL_SPREAD_MM),
    crown_shares=_shares,
    place=lambda reading: tr(
        "groove in fret {fret} under string {string}", fret=reading.fret, string=reading.string
    ),
)
