"""Crown by dial: a dial run along a string line, zero at the first and the last crown, positive up."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Literal

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Reading
from breakangle.model.words.noun import Between, UncertaintyMm
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.crown_lines import (
    Array,
    ends_of,
    line_shares,
    mm_of,
    predicted,
    shown_either_way,
)
from breakangle.planning.kinds.kind import Prediction, ReadingKind
from breakangle.planning.state.picture import Picture

USUAL_MM, USUAL_SPREAD_MM = -0.1, 0.15  # a neck with relief; common practice, no source
GUIDE_MM = 0.003  # the rail that carries the dial; common practice, no source
GAUGE_SPREAD_MM = 0.005  # a dial of hundredths, read between its lines; common practice, no source


class CrownDial(Reading):
    """The crown of `fret` over the straight line from the first to the last crown under `string`, in mm."""

    quantity: Literal["crown-dial"] = "crown-dial"
    fret: Annotated[int, Between(1, 36, "", whole=True)]
    mm: Annotated[float, Between(-3.0, 3.0, "mm")]
    uncertainty_mm: UncertaintyMm | None = None

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have; the dial is zero at the first and the last crown."""
        yield from super().misfits(instrument)
        if self.string <= len(instrument.strings):
            least = instrument.in_order()[self.string - 1].nut_at_fret + 2
            if not least <= self.fret <= instrument.frets - 1:
                yield (
                    "fret",
                    tr(
                        "a fret from {least} to {frets}: the dial is zero at the others",
                        least=least,
                        frets=instrument.frets - 1,
                    ),
                )


def _shares(readings: Sequence[CrownDial], picture: Picture) -> Array:
    return line_shares(picture, *ends_of(readings, picture))


def predict(readings: Sequence[CrownDial], picture: Picture) -> Prediction:
    """Return what a dial that is zero at the first and the last crown should show, mm."""
    return predicted(picture, ends_of(readings, picture)[0], _shares(readings, picture), GUIDE_MM)


KIND = ReadingKind(
    name="crown-dial",
    words=mark("crown by a dial run along the string"),
    unit="mm",
    decimals=3,
    model=CrownDial,
    how=mark(
        "Carry a dial on a rail along the string line; set it to zero on the first and the "
        "last crown, then read each crown between at its top. Above zero is up."
    ),
    gauge_spread=GAUGE_SPREAD_MM,
    surprise=0.1,
    value=mm_of,
    spread=lambda reading: reading.uncertainty_mm or GAUGE_SPREAD_MM,  # type: ignore[attr-defined]
    predict=predict,
    shown=shown_either_way,
    candidates=lambda instrument: [],
    usual_mm=(USUAL_MM, USUAL_SPREAD_MM),
    crown_shares=_shares,
    place=lambda reading: tr(
        "crown of fret {fret} by dial, under string {string}", fret=reading.fret, string=reading.string
    ),
)
