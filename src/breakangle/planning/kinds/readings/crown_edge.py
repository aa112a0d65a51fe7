"""Crown under a straight-edge: the feeler that goes between a long straight-edge on the frets and one crown."""

from collections.abc import Sequence
from typing import Annotated, Literal

import numpy as np

from breakangle.model.reading import Reading
from breakangle.model.words.noun import Between, UncertaintyMm
from breakangle.model.words.speech import mark, tr
from breakangle.physics.neck.gaps import gaps
from breakangle.planning.kinds.crown_lines import (
    Array,
    ends_of,
    line_shares,
    mm_of,
    predicted,
    shown_from_nothing,
)
from breakangle.planning.kinds.kind import Prediction, ReadingKind
from breakangle.planning.state.picture import Picture

USUAL_MM, USUAL_SPREAD_MM = 0.1, 0.12  # a neck with relief; common practice, no source
RESEATED_MM = 0.004  # the edge set down again, and its own straightness; common practice, no source
GAUGE_SPREAD_MM = 0.015  # feelers; common practice, no source
# The edge lies on the crown: its gap is anything from nothing to a thin feeler below; common practice, no source.
RESTING_SPREAD_MM = 0.02


class CrownEdge(Reading):
    """The gap in mm from the crown of `fret` up to a straight-edge along `string`, lying on the highest crowns."""

    quantity: Literal["crown-edge"] = "crown-edge"
    fret: Annotated[int, Between(1, 36, "", whole=True)]
    mm: Annotated[float, Between(0.0, 3.0, "mm")]
    uncertainty_mm: UncertaintyMm | None = None


def _shares(readings: Sequence[CrownEdge], picture: Picture) -> Array:
    return _carried(readings, picture)[0]


def _carried(readings: Sequence[CrownEdge], picture: Picture) -> tuple[Array, Array]:
    """Return the share of every point in each gap (R, F + 2), none where the edge lies on the crown; and where it does.

    A crown that carries the edge tells no more than that it is as high as the line, which its own noise covers.
    """
    string, fret, first, last = ends_of(readings, picture)
    inner = np.clip(fret, first + 1, last - 1)
    found = gaps(picture.board.along_mm[string], picture.height_mm[string], inner, first, last)
    resting = (inner != fret) | found.resting
    left, right = np.where(resting, first, found.left), np.where(resting, last, found.right)
    shares = -line_shares(picture, string, inner, left, right)
    shares[resting] = 0.0
    return shares, resting


def predict(readings: Sequence[CrownEdge], picture: Picture) -> Prediction:
    """Return the gaps under an edge from the first to the last crown, carried by what stands highest between, mm."""
    shares, resting = _carried(readings, picture)
    told = predicted(picture, ends_of(readings, picture)[0], shares, RESEATED_MM)
    return Prediction(
        told.values, told.rows, np.where(resting, RESTING_SPREAD_MM, told.unexplained), told.left_out
    )


KIND = ReadingKind(
    name="crown-edge",
    words=mark("gap under a straight-edge on the frets"),
    unit="mm",
    decimals=2,
    model=CrownEdge,
    how=mark(
        "Lay a long straight-edge on the frets along the string line, rod as it stands, and "
        "slide feelers between it and each crown until the next thicker one would lift it."
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
        "straight-edge over fret {fret}, along string {string}", fret=reading.fret, string=reading.string
    ),
)
