"""Crown by rocker: its height over the line from the crown before to the one after, positive where it rocks."""

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

USUAL_SPREAD_MM = 0.06  # crowns in use out of line; common practice, no source
RESEATED_MM = 0.003  # the rocker set down again; common practice, no source
GAUGE_SPREAD_MM = 0.012  # thinnest feeler under a rocker over three frets; common practice, no source


class CrownRocker(Reading):
    """How much the crown of `fret` stands over the two beside it under `string`, in mm; low where negative."""

    quantity: Literal["crown-rocker"] = "crown-rocker"
    fret: Annotated[int, Between(1, 36, "", whole=True)]
    mm: Annotated[float, Between(-1.0, 1.0, "mm")]
    uncertainty_mm: UncertaintyMm | None = None

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have; a rocker needs a crown at either side."""
        yield from super().misfits(instrument)
        if self.string <= len(instrument.strings):
            least = instrument.in_order()[self.string - 1].nut_at_fret + 2
            if not least <= self.fret <= instrument.frets - 1:
                yield (
                    "fret",
                    tr(
                        "a fret from {least} to {frets}, with a crown at either side",
                        least=least,
                        frets=instrument.frets - 1,
                    ),
                )


def _shares(readings: Sequence[CrownRocker], picture: Picture) -> Array:
    string, fret, _, _ = ends_of(readings, picture)
    return line_shares(picture, string, fret, fret - 1, fret + 1)


def predict(readings: Sequence[CrownRocker], picture: Picture) -> Prediction:
    """Return how much these crowns should stand over the two beside them, mm."""
    return predicted(picture, ends_of(readings, picture)[0], _shares(readings, picture), RESEATED_MM)


KIND = ReadingKind(
    name="crown-rocker",
    words=mark("crown over the two beside it, by a rocker"),
    unit="mm",
    decimals=2,
    model=CrownRocker,
    how=mark(
        "Set a rocker on three crowns along the string. Where it rocks, the feeler that "
        "stops it, halved, is how high the middle one is; where it lies still, the feeler "
        "that goes under over the middle one is how low."
    ),
    gauge_spread=GAUGE_SPREAD_MM,
    surprise=0.1,
    value=mm_of,
    spread=lambda reading: reading.uncertainty_mm or GAUGE_SPREAD_MM,  # type: ignore[attr-defined]
    predict=predict,
    shown=shown_either_way,
    candidates=lambda instrument: [],
    usual_mm=(0.0, USUAL_SPREAD_MM),
    crown_shares=_shares,
    place=lambda reading: tr(
        "crown of fret {fret} over the two beside it, under string {string}",
        fret=reading.fret,
        string=reading.string,
    ),
)
