"""Buzz heard: a string struck a crown as it was played, until it swung too low: how high it stands over that crown."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Literal

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Reading
from breakangle.model.words.noun import Between, UncertaintyMm
from breakangle.model.words.speech import mark, tr
from breakangle.planning.kinds.crown_lines import mm_of, shown_from_nothing
from breakangle.planning.kinds.kind import Prediction, ReadingKind
from breakangle.planning.kinds.readings.gap import HeldFrets, along, held_misfits, place
from breakangle.planning.kinds.readings.gap import predict as gaps_of
from breakangle.planning.state.picture import Picture

# What is heard tells how far the string swung in whatever direction; the part toward the board is known to half of it.
# Calibrated by nobody yet, no source: as the share toward the board in reference/data/strength.toml.
SPREAD_RATIO = 0.55  # no published source
LEAST_SPREAD_MM = 0.05  # common practice, no source
USUAL_MM, USUAL_SPREAD_MM = 0.25, 0.25  # what ordinary play reaches; common practice, no source


class BuzzHeard(HeldFrets, Reading):
    """The gap in mm over the crown of `fret` at which `string` ceased to buzz, with the fret in `held` stopped.

    `chance` is how likely that crown is the one that was struck.
    """

    quantity: Literal["buzz-heard"] = "buzz-heard"
    fret: Annotated[int, Between(1, 36, "", whole=True)]
    mm: Annotated[float, Between(0.0, 5.0, "mm")]
    uncertainty_mm: UncertaintyMm | None = None
    chance: Annotated[float, Between(0.0, 1.0, "")] = 1.0

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield what this instrument does not have; a string strikes crowns beyond its stop."""
        yield from super().misfits(instrument)
        yield from held_misfits(self, instrument)
        if self.held and self.held[-1] > self.fret:
            yield "held", tr("a fret below {fret}, the crown that is struck, or none", fret=self.fret)


def predict(readings: Sequence[BuzzHeard], picture: Picture) -> Prediction:
    """Return how high these strings stand over the crowns they struck, in mm."""
    return gaps_of(readings, picture)


def _spread(reading: Reading) -> float:
    assert isinstance(reading, BuzzHeard)
    return reading.uncertainty_mm or max(SPREAD_RATIO * reading.mm, LEAST_SPREAD_MM)


KIND = ReadingKind(
    name="buzz-heard",
    words=mark("gap at which a buzz ceased"),
    unit="mm",
    decimals=2,
    model=BuzzHeard,
    how=mark(
        "Pluck the note that buzzes once, hard enough, and let it ring: listening names the crown and when it stops."
    ),
    gauge_spread=SPREAD_RATIO * USUAL_MM,
    surprise=0.4,
    value=mm_of,
    spread=_spread,
    predict=predict,
    shown=shown_from_nothing,
    candidates=lambda instrument: [],
    usual_mm=(USUAL_MM, USUAL_SPREAD_MM),
    place=lambda reading: tr("buzz heard, {place}", place=place(reading)),
    along=along,
)
