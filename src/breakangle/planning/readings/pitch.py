"""Pitch: of a string open, stopped at a fret, or as a natural harmonic; in Hz, or in cents from its note."""

from collections.abc import Sequence
from typing import Annotated, Literal, Self

import numpy as np
from pydantic import model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.instrument import Instrument
from breakangle.model.noun import Between, UncertaintyCents
from breakangle.model.pitch import cents_between
from breakangle.model.reading import Reading
from breakangle.physics.intonation import CENTS_PER_NEPER
from breakangle.planning.board import Board
from breakangle.planning.kinds import Prediction, ReadingKind
from breakangle.planning.picture import Picture

GAUGE_SPREAD_CENTS = 1.0  # a tuner read by eye, one standard deviation; common practice, no source
FINGER_SPREAD_CENTS = 0.25  # the finger never presses twice alike; common practice, no source
FARTHEST_CENTS = 250.0


class Pitch(Reading):
    """A pitch of `string` at `fret` (0: open); `harmonic` 2 and up marks a natural harmonic."""

    quantity: Literal["pitch"] = "pitch"
    harmonic: Annotated[int, Between(2, 12, "", whole=True)] | None = None
    hz: Annotated[float, Between(10.0, 6000.0, "Hz")] | None = None
    cents: Annotated[float, Between(-FARTHEST_CENTS, FARTHEST_CENTS, "cents")] | None = None
    uncertainty_cents: UncertaintyCents | None = None

    @model_validator(mode="after")
    def _one_value(self) -> Self:
        if (self.hz is None) == (self.cents is None):
            allowed = "given, either it or cents, and not both"
            raise PydanticCustomError("at", "must be {allowed}", {"allowed": allowed, "key": "hz"})
        return self


def nominal_ratio(reading: Pitch, board: Board) -> float:
    """Return the frequency ratio of the reading's equal-tempered note to the open string's."""
    if reading.harmonic is not None:
        return float(2.0 ** (round(12 * np.log2(reading.harmonic)) / 12))
    return float(board.fret_ratio[reading.string - 1, reading.fret - 1]) if reading.fret else 1.0


def _value(reading: Reading, board: Board) -> float:
    """Return the reading in cents from its note."""
    assert isinstance(reading, Pitch)
    if reading.cents is not None:
        return reading.cents
    assert reading.hz is not None
    note_hz = float(board.hz[reading.string - 1]) * nominal_ratio(reading, board)
    return cents_between(reading.hz, note_hz)


def _harmonic_cents(harmonic: int, stiffness_ratio: float) -> float:
    """Return how far the harmonic of an open stiff string lies above its equal-tempered note, in cents.

    Source: Fletcher 1964, f_n = n f0 sqrt(1 + B n²) with B = π² (EI/T)/L².
    """
    inharmonicity = (np.pi * stiffness_ratio) ** 2
    stretch = 0.5 * np.log((1 + harmonic**2 * inharmonicity) / (1 + inharmonicity))
    pure = np.log(harmonic) - np.log(2.0) * round(12 * np.log2(harmonic)) / 12
    return float(CENTS_PER_NEPER * (stretch + pure))


def predict(readings: Sequence[Pitch], picture: Picture) -> Prediction:
    """Return what these pitches should read in cents from their notes."""
    layout, count = picture.layout, len(readings)
    string = np.array([one.string - 1 for one in readings], dtype=np.intp)
    rows, unexplained = np.zeros((count, layout.size)), np.zeros(count)
    values = picture.mean[layout["pitch"]][string]
    rows[np.arange(count), layout["pitch"][string]] = 1.0
    stopped = np.array(
        [i for i, one in enumerate(readings) if one.fret and one.harmonic is None], dtype=np.intp
    )
    if len(stopped):
        fret = np.array([readings[i].fret - 1 for i in stopped], dtype=np.intp)
        above, slopes = picture.cents_at(string[stopped], fret)
        values[stopped] += above
        rows[stopped] += slopes
        unexplained[stopped] = FINGER_SPREAD_CENTS
    for index, one in enumerate(readings):
        if one.harmonic is not None:
            above_open = _harmonic_cents(one.harmonic, float(picture.stiffness_ratio[one.string - 1]))
            values[index] += above_open
            slope = 2.0 * (above_open - _harmonic_cents(one.harmonic, 0.0))
            rows[index, layout["log_stiffness"][one.string - 1]] = slope
    return Prediction(values, rows, unexplained)


def _candidates(instrument: Instrument) -> list[Reading]:
    found: list[Reading] = []
    for one in instrument.in_order():
        found += [
            Pitch(string=one.string, fret=fret, cents=0.0)
            for fret in (0, one.nut_at_fret + 12)
            if fret <= instrument.frets
        ]
    return found


def _shown(reading: Reading, value: float, spread: float) -> Reading:
    update = {
        "hz": None,
        "cents": round(value, 2),
        "uncertainty_cents": round(max(spread, 0.01), 2),
        "after": 0,
    }
    return reading.model_copy(update=update)


def place(reading: Pitch) -> str:
    """Return in words what sounds."""
    if reading.harmonic is not None:
        return f"string {reading.string}, harmonic {reading.harmonic}"
    return (
        f"string {reading.string}, fret {reading.fret}" if reading.fret else f"string {reading.string}, open"
    )


KIND = ReadingKind(
    name="pitch",
    words="pitch of a string",
    unit="cents",
    decimals=1,
    model=Pitch,
    how="Tune, pluck once, let the first moment pass, and read; press no harder than in playing.",
    gauge_spread=GAUGE_SPREAD_CENTS,
    surprise=6.0,
    value=_value,
    spread=lambda reading: reading.uncertainty_cents or GAUGE_SPREAD_CENTS,  # type: ignore[attr-defined]
    predict=predict,
    shown=_shown,
    candidates=_candidates,
    place=place,
)
