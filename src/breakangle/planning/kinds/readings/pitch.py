"""Pitch: of a string open, stopped at a fret, or as a natural harmonic; in Hz, or in cents from its note."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Annotated, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.instrument import Instrument
from breakangle.model.pitch import cents_between
from breakangle.model.reading import Reading
from breakangle.model.words.noun import Between, UncertaintyCents
from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import mark, tr
from breakangle.physics.string.intonation import CENTS_PER_NEPER
from breakangle.planning.kinds.kind import Prediction, ReadingKind
from breakangle.planning.state.board import Board
from breakangle.planning.state.effects.body import pulled
from breakangle.planning.state.picture import Picture

Indices = NDArray[np.intp]
# Where nothing else is said below: common practice, no source.
GAUGE_SPREAD_CENTS = 1.0  # a tuner read by eye, one standard deviation; common practice, no source
# The finger never presses twice alike, least so at the first frets; common practice, no source.
FINGER_SPREAD_CENTS, LOW_FRETS, LOW_FRET_SPREAD_CENTS = 0.5, 3, 1.5
FARTHEST_CENTS = 250.0
OCTAVE_HARMONIC = 2  # exact: an octave is twice the frequency


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
            allowed = tr("given, either it or cents, and not both")
            raise PydanticCustomError("at", tr("must be {allowed}"), {"allowed": allowed, "key": "hz"})
        return self


def nominal_ratio(reading: Pitch, board: Board) -> float:
    """Return the frequency ratio of the reading's equal-tempered note to the open string's."""
    if reading.harmonic is not None:
        return float(2.0 ** (round(12 * np.log2(reading.harmonic)) / 12))
    return float(board.fret_ratio[reading.string - 1, reading.fret - 1]) if reading.fret else 1.0


def octave_hint(hz: float, note_hz: float) -> str:
    """Return that a frequency too far from its note is an octave off, where it is; else nothing."""
    reach = 2.0 ** (FARTHEST_CENTS / 1200.0)
    for way, ratio in (("below", 2.0), ("above", 0.5)):
        if note_hz and note_hz / reach <= hz * ratio <= note_hz * reach:
            return tr(
                "it is an octave {way} the note: was another string or fret meant, or {hz:.2f} Hz?",
                way=way,
                hz=hz * ratio,
            )
    return ""


def _value(reading: Reading, board: Board) -> float:
    """Return the reading in cents from its note."""
    assert isinstance(reading, Pitch)
    if reading.cents is not None:
        return reading.cents
    assert reading.hz is not None
    note_hz = float(board.hz[reading.string - 1]) * nominal_ratio(reading, board)
    return cents_between(reading.hz, note_hz)


def harmonic_cents(harmonic: int, stiffness_ratio: float) -> float:
    """Return how far the harmonic of an open stiff string lies above its equal-tempered note, in cents.

    Source: Fletcher 1964, f_n = n f0 sqrt(1 + B n²) with B = π² (EI/T)/L².
    """
    inharmonicity = (np.pi * stiffness_ratio) ** 2
    stretch = 0.5 * np.log((1 + harmonic**2 * inharmonicity) / (1 + inharmonicity))
    pure = np.log(harmonic) - np.log(2.0) * round(12 * np.log2(harmonic)) / 12
    return float(CENTS_PER_NEPER * (stretch + pure))


def _places(readings: Sequence[Pitch]) -> tuple[Indices, Indices, Indices]:
    """Return the string of each (from 0), which of them are stopped, and the frets of these (from 0: the first)."""
    # By where they are read alone: what was read there differs between instruments, which would fill the cache.
    return _stopped(tuple((one.string, one.fret, one.harmonic is None) for one in readings))


@lru_cache(maxsize=1024)
def _stopped(places: tuple[tuple[int, int, bool], ...]) -> tuple[Indices, Indices, Indices]:
    """Return the same of strings (from 1), frets, and whether each is no harmonic."""
    string = np.array([string - 1 for string, _, _ in places], dtype=np.intp)
    stopped = [place for place, (_, fret, plain) in enumerate(places) if fret and plain]
    fret = np.array([places[place][1] - 1 for place in stopped], dtype=np.intp)
    found = string, np.array(stopped, dtype=np.intp), fret
    for one in found:
        one.flags.writeable = False
    return found


def predict(readings: Sequence[Pitch], picture: Picture) -> Prediction:
    """Return what these pitches should read in cents from their notes."""
    layout, count = picture.layout, len(readings)
    string, stopped, fret = _places(readings)
    rows, unexplained = np.zeros((count, layout.size)), np.zeros(count)
    values = picture.mean[layout["pitch"]][string]
    rows[np.arange(count), layout["pitch"][string]] = 1.0
    if len(stopped):
        above, slopes = picture.cents_at(string[stopped], fret)
        values[stopped] += above
        rows[stopped] += slopes
        finger = np.where(fret < LOW_FRETS, LOW_FRET_SPREAD_CENTS, FINGER_SPREAD_CENTS)
        # Whoever states more than a tuner is off by has counted the finger in, as far as it goes beyond a tuner: what
        # is stated less surely never counts for more.
        stated = np.array([readings[place].uncertainty_cents or 0.0 for place in stopped])
        counted_in = np.maximum(stated**2 - GAUGE_SPREAD_CENTS**2, 0.0)
        unexplained[stopped] = np.sqrt(np.maximum(finger**2 - counted_in, 0.0))
    for index, one in enumerate(readings):
        if one.harmonic is not None:
            above_open = harmonic_cents(one.harmonic, float(picture.stiffness_ratio[one.string - 1]))
            values[index] += above_open
            slope = 2.0 * (above_open - harmonic_cents(one.harmonic, 0.0))
            rows[index, layout["log_stiffness"][one.string - 1]] = slope
    if (body := pulled(readings, picture.board)) is not None:
        values, unexplained = values + body[0], np.hypot(unexplained, body[1])
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
    return f"{strings_in_words([reading.string])}, {along(reading)}"


def along(reading: Pitch) -> str:
    """Return in words what sounds of a string, an open one too."""
    return sounding(reading) or tr("open")


def sounding(reading: Pitch) -> str:
    """Return in words what sounds of a string: its harmonic, or the fret it is stopped at; empty where it is open."""
    if reading.harmonic == OCTAVE_HARMONIC:
        return tr("octave harmonic")
    if reading.harmonic is not None:
        return tr("harmonic {harmonic}", harmonic=reading.harmonic)
    return tr("fret {fret}", fret=reading.fret) if reading.fret else ""


KIND = ReadingKind(
    name="pitch",
    words=mark("pitch of a string"),
    unit="cents",
    decimals=1,
    model=Pitch,
    how=mark("Tune, pluck once, let the first moment pass, and read; press no harder than in playing."),
    gauge_spread=GAUGE_SPREAD_CENTS,
    scatter=FINGER_SPREAD_CENTS,
    surprise=6.0,
    value=_value,
    spread=lambda reading: reading.uncertainty_cents or GAUGE_SPREAD_CENTS,  # type: ignore[attr-defined]
    predict=predict,
    shown=_shown,
    candidates=_candidates,
    place=place,
    along=along,
)
