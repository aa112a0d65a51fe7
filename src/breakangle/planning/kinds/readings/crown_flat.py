"""Flat of a crown: how wide the top that a file or play has flattened is."""

from collections.abc import Sequence
from typing import Annotated, Literal

import numpy as np

from breakangle.model.reading import Reading
from breakangle.model.words.noun import Between, UncertaintyMm
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.crown_lines import mm_of, shown_from_nothing
from breakangle.planning.kinds.kind import Prediction, ReadingKind
from breakangle.planning.state.picture import Picture

GAUGE_SPREAD_MM = 0.1  # a scale and a glass over the marked crown; common practice, no source
USUAL_MM, USUAL_SPREAD_MM = 0.6, 0.5  # from well crowned to never crowned again; common practice, no source


class CrownFlat(Reading):
    """The width in mm of the flat on the crown of `fret`, under `string`."""

    quantity: Literal["crown-flat"] = "crown-flat"
    fret: Annotated[int, Between(1, 36, "", whole=True)]
    mm: Annotated[float, Between(0.0, 4.0, "mm")]
    uncertainty_mm: UncertaintyMm | None = None


def predict(readings: Sequence[CrownFlat], picture: Picture) -> Prediction:
    """Return what flats usually are, mm, as wide as they differ: a flat tells nothing of the line."""
    count = len(readings)
    rows = np.zeros((count, picture.layout.size))
    return Prediction(np.full(count, USUAL_MM), rows, np.full(count, USUAL_SPREAD_MM))


KIND = ReadingKind(
    name="crown-flat",
    words=mark("width of the flat on a crown"),
    unit="mm",
    decimals=2,
    model=CrownFlat,
    how=mark(
        "Black the crown with a marker, touch it once with the beam, and read the bright line's width under a glass."
    ),
    gauge_spread=GAUGE_SPREAD_MM,
    surprise=1.5,
    value=mm_of,
    spread=lambda reading: reading.uncertainty_mm or GAUGE_SPREAD_MM,  # type: ignore[attr-defined]
    predict=predict,
    shown=shown_from_nothing,
    candidates=lambda instrument: [],
    usual_mm=(USUAL_MM, USUAL_SPREAD_MM),
    place=lambda reading: tr(
        "flat on the crown of fret {fret}, under string {string}", fret=reading.fret, string=reading.string
    ),
)
