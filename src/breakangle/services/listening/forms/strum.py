"""All open strings strummed at once: how far each is from its note, and the pitch readings that makes."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from breakangle.drawings.charts.dots import Axes
from breakangle.listening.naming.naming import OpenString
from breakangle.listening.stream import takes_in
from breakangle.listening.takes.judge import GOOD_SPREAD_CENTS
from breakangle.listening.together.strum import OpenNote, Strummed, strummed
from breakangle.model.errors import CorrectInputError
from breakangle.model.pitch import cents_between
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.services.listening.forms.form import (
    Answer,
    FloatArray,
    cents_series,
    pitch_readings,
    whole_sound,
)
from breakangle.services.listening.strokes import board_for
from breakangle.services.listening.takes import open_strings

MOST_SCATTER_CENTS = 4.0  # chosen: of partials about a string's law, as of a single take
ONE_STRUM_S = 0.4  # chosen: the hand has crossed all strings by then


def strum_heard(path: Path, service: Service) -> Answer:
    """Return the pitch of every open string in a strum.

    Raises:
        ChooseAnotherFileError: the recording cannot be read or is too long.
        CorrectInputError: a course's two strings cannot be told apart in a strum, or a string's make is in no table.
        InstallError: a phone recording, and its reader is not installed.
    """
    return strum_in(*whole_sound(path), service)


def strum_in(samples: FloatArray, rate_hz: float, service: Service) -> Answer:
    """Return the pitch of every open string in the sound of a strum, mono, shape (samples,).

    Raises:
        CorrectInputError: a course's two strings cannot be told apart in a strum, or a string's make is in no table.
    """
    strings = open_strings(service.instrument_now(), service.reference_hz)
    notes = _notes(strings, service)
    found = max(
        (strummed(piece, rate_hz, notes) for piece in _strums(samples, rate_hz)),
        key=lambda several: sum(one.pitch is not None for one in several),
        default=(),
    )
    open_hz = {one.number: one.open_hz for one in strings}
    rows = [_row(one, open_hz[one.number]) for one in found]
    told = [row for row in rows if row["hz"] is not None]
    data = {"format": "breakangle/strum/1", "strings": rows}
    if not told:
        none = tr("No strum was heard: strum all open strings at once and let them ring for three seconds.")
        return Answer((none,), data, usable=False)
    return Answer(
        tuple(_words(row) for row in rows),
        data,
        (cents_series(tr("open strings"), told, "string"),),
        Axes(tr("All open strings at once"), tr("string"), tr("cents from its note")),
        pitch_readings(told, service),
    )


def _notes(strings: Sequence[OpenString], service: Service) -> list[OpenNote]:
    """Return the open strings as a strum knows them.

    Raises:
        CorrectInputError: a course's two strings cannot be told apart in a strum, or a string's make is in no table.
    """
    instrument, board = service.instrument_now(), board_for(service)
    if board is None or any(instrument.course_of(one.string) is not None for one in instrument.strings):
        raise CorrectInputError(
            tr("a strum of this instrument"),
            tr("single strings whose make is known: how stiff each is tells its partials from the others'"),
            tr("pluck one string at a time"),
        )
    stiffness = (np.pi * board.stiffness_ratio) ** 2  # B: Fletcher (1964), as in `pitch.partials`
    return [OpenNote(one.number, one.open_hz, float(stiffness[one.number - 1])) for one in strings]


def _strums(samples: FloatArray, rate_hz: float) -> list[FloatArray]:
    """Return the pieces that begin with a pluck; plucks close together are one strum."""
    starts: list[float] = []
    for take in takes_in(samples, rate_hz):
        if not starts or take.start_s - starts[-1] > ONE_STRUM_S:
            starts.append(take.start_s)
    ends = [*starts[1:], len(samples) / rate_hz][: len(starts)]
    return [
        samples[round(start * rate_hz) : round(end * rate_hz)]
        for start, end in zip(starts, ends, strict=True)
    ]


def _row(one: Strummed, open_hz: float) -> dict[str, Any]:
    """Return one string as plain data, no finer than it is known."""
    if one.pitch is None:
        return {"string": one.number, "hz": None, "cents": None, "uncertainty_cents": None, "good": False}
    hz, pitch = one.pitch.law.partial_one_hz, one.pitch
    sure = (
        one.sure and pitch.spread_cents <= GOOD_SPREAD_CENTS and pitch.law.scatter_cents <= MOST_SCATTER_CENTS
    )
    return {
        "string": one.number,
        "fret": 0,
        "hz": round(hz, 4),
        "cents": round(cents_between(hz, open_hz), 2),
        "uncertainty_cents": round(pitch.uncertainty_cents, 2),
        "good": bool(sure),
    }


def _words(row: dict[str, Any]) -> str:
    if row["hz"] is None:
        return tr(
            "String {string}: its partials hide among the other strings'; pluck it alone",
            string=row["string"],
        )
    told = tr(
        "String {string}: {cents:+.1f} cents from its note, ± {spread:.1f}",
        string=row["string"],
        cents=row["cents"],
        spread=row["uncertainty_cents"],
    )
    return told if row["good"] else tr("{told}; doubtful: pluck it alone", told=told)
