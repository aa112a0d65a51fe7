"""Crown height: from the board's surface to the top of a crown, how much metal there is."""

from collections.abc import Sequence
from typing import Annotated, Literal

import numpy as np

from breakangle.model.reading import Reading
from breakangle.model.words.noun import Between, UncertaintyMm
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.crown_lines import mm_of, shown_from_nothing
from breakangle.planning.kinds.kind import Prediction, ReadingKind
from breakangle.planning.state.picture import Picture

GAUGE_SPREAD_MM = 0.03  # depth gauge or calliper on the board beside the fret; common practice, no source
USUAL_MM, USUAL_SPREAD_MM = 1.05, 0.22  # wires in use, from low and worn to tall; common practice, no source


class CrownHeight(Reading):
    """The height in mm of the crown of `fret` above the board, under `string`."""

    quantity: Literal["crown-height"] = "crown-height"
    fret: Annotated[int, Between(1, 36, "", whole=True)]
    mm: Annotated[float, Between(0.0, 3.0, "mm")]
    uncertainty_mm: UncertaintyMm | None = None


def predict(readings: Sequence[CrownHeight], picture: Picture) -> Prediction:
    """Return what crowns usually are, mm, as wide as wires differ: the metal there is tells nothing of the line."""
    count = len(readings)
    rows = np.zeros((count, picture.layout.size))
    return Prediction(np.full(count, USUAL_MM), rows, np.full(count, USUAL_SPREAD_MM))


KIND = ReadingKind(
    name="crown-height",
    words=mark("height of a crown above the board"),
    unit="mm",
    decimals=2,
    model=CrownHeight,
    how=mark("Stand a depth gauge on the board beside the fret and lower it on the crown under the string."),
    gauge_spread=GAUGE_SPREAD_MM,
    surprise=0.6,
    value=mm_of,
    spread=lambda reading: reading.uncertainty_mm or GAUGE_SPREAD_MM,  # type: ignore[attr-defined]
    predict=predict,
    shown=shown_from_nothing,
    candidates=lambda instrument: [],
    usual_mm=(USUAL_MM, USUAL_SPREAD_MM),
    place=lambda reading: tr(
        "crown of fret {fret} above the board, under string {string}",
        fret=reading.fret,
        string=reading.string,
    ),
)
