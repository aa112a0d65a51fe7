"""Crown: the height of a fret's crown under a string from the line the others lie on, positive up."""

from collections import Counter
from collections.abc import Sequence
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Reading
from breakangle.model.words.noun import Between, UncertaintyMm
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.crown_lines import own_shares
from breakangle.planning.kinds.kind import Prediction, ReadingKind
from breakangle.planning.state.board import Board
from breakangle.planning.state.crowns import left_out_mm, own_crown_frets
from breakangle.planning.state.layout import OWN_CROWNS
from breakangle.planning.state.picture import Picture

Array = NDArray[np.float64]
USUAL_SPREAD_MM = 0.05  # crowns in use out of line; common practice, no source
RESEATED_MM = 0.003  # the straight-edge set down again; common practice, no source
GAUGE_SPREAD_MM = 0.015  # short straight-edge over three frets and feelers; common practice, no source


class Crown(Reading):
    """The height of the crown of `fret` under `string`, in mm."""

    quantity: Literal["crown"] = "crown"
    fret: Annotated[int, Between(1, 36, "", whole=True)]
    mm: Annotated[float, Between(-1.0, 1.0, "mm")]
    uncertainty_mm: UncertaintyMm | None = None


def predict(readings: Sequence[Crown], picture: Picture) -> Prediction:
    """Return what these crowns should read in mm."""
    layout = picture.layout
    rows = np.zeros((len(readings), layout.size))
    own, left_out = own_crown_frets(picture.board), left_out_mm(picture.board)
    beside = Counter(one.fret for one in readings)
    unexplained = np.full(len(readings), RESEATED_MM)
    for index, one in enumerate(readings):
        rows[index, layout["crown"][one.fret - 1]] = 1.0
        rows[index, layout["crown_tilt"][one.fret - 1]] = picture.board.side_ratio[one.string - 1]
        for slot in np.flatnonzero(own[one.string - 1] == one.fret):
            rows[index, layout["crown_own"][(one.string - 1) * OWN_CROWNS + slot]] = 1.0
        # Read under one string only, a crown is taken to be as it reads; under several, each has a part of its own.
        if beside[one.fret] > 1:
            unexplained[index] = np.hypot(RESEATED_MM, left_out[one.string - 1, one.fret])
    return Prediction(rows @ picture.mean, rows, unexplained)


def _value(reading: Reading, board: Board) -> float:
    del board
    return float(reading.mm)  # type: ignore[attr-defined]


def _shown(reading: Reading, value: float, spread: float) -> Reading:
    update = {"mm": round(value, 3), "uncertainty_mm": round(max(spread, 0.001), 3), "after": 0}
    return reading.model_copy(update=update)


def _candidates(instrument: Instrument) -> list[Reading]:
    del instrument  # crowns are read where something points at them, never proposed by routine
    return []


def _shares(readings: Sequence[Crown], picture: Picture) -> Array:
    return own_shares(readings, picture, 1.0)


KIND = ReadingKind(
    name="crown",
    words=mark("height of a crown"),
    unit="mm",
    decimals=2,
    model=Crown,
    how=mark("Rock a short straight-edge over three crowns; feel under it where the middle one is low."),
    gauge_spread=GAUGE_SPREAD_MM,
    surprise=0.1,
    value=_value,
    spread=lambda reading: reading.uncertainty_mm or GAUGE_SPREAD_MM,  # type: ignore[attr-defined]
    predict=predict,
    shown=_shown,
    candidates=_candidates,
    usual_mm=(0.0, USUAL_SPREAD_MM),
    crown_shares=_shares,
    place=lambda reading: tr(
        "crown of fret {fret} under string {string}", fret=reading.fret, string=reading.string
    ),
)
