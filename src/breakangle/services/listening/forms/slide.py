"""All frets of one string in one slide: how far each is from its note, and the pitch readings that makes."""

from pathlib import Path

from breakangle.drawings.charts.dots import Axes
from breakangle.listening.together.slide import FretHeard, frets_in
from breakangle.model.errors import CorrectInputError
from breakangle.model.pitch import cents_between, note_hz
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.services.listening.forms.form import (
    Answer,
    FloatArray,
    cents_series,
    pitch_readings,
    whole_sound,
)

FEWEST_FRETS = 3


def slide_heard(path: Path, service: Service, string: int) -> Answer:
    """Return what each fret of a string reads in a slide.

    Raises:
        ChooseAnotherFileError: the recording cannot be read or is too long.
        CorrectInputError: the instrument has no such string.
        InstallError: a phone recording, and its reader is not installed.
    """
    return slide_in(*whole_sound(path), service, string)


def slide_in(samples: FloatArray, rate_hz: float, service: Service, string: int) -> Answer:
    """Return what each fret of a string reads in the sound of a slide, mono, shape (samples,).

    Raises:
        CorrectInputError: the instrument has no such string.
    """
    instrument = service.instrument_now()
    chosen = [one for one in instrument.in_order() if one.string == string]
    if not chosen:
        count = len(instrument.strings)
        has = tr("this instrument has strings 1 to {strings_count}", strings_count=count)
        raise CorrectInputError(tr("string {string}", string=string), has, tr("name one of them"))
    nut, open_hz = chosen[0].nut_at_fret, note_hz(chosen[0].note, service.reference_hz)
    heard = frets_in(samples, rate_hz, open_hz, instrument.frets - nut)
    if len(heard) < FEWEST_FRETS:
        told = tr(
            "No slide was heard: rest at least half a second at each fret, and pluck anew when it grows faint."
        )
        return Answer((told,), {"format": "breakangle/slide/1", "string": string, "frets": []}, usable=False)
    rows = [{"string": string} | _row(one, nut, open_hz) for one in heard]
    words = [
        tr("String {string}: {heard_count} frets heard in one slide", string=string, heard_count=len(heard))
    ]
    return Answer(
        (*words, *(_words(row) for row in rows)),
        {"format": "breakangle/slide/1", "string": string, "frets": rows},
        (cents_series(tr("string {string}", string=string), rows, "fret"),),
        Axes(tr("Each fret of a slide"), tr("fret"), tr("cents from its note")),
        pitch_readings(rows, service),
    )


def _row(one: FretHeard, nut: int, open_hz: float) -> dict[str, float]:
    """Return one fret as plain data, no finer than it is known."""
    return {
        "fret": one.fret + nut if one.fret else 0,
        "hz": round(one.hz, 4),
        "cents": round(cents_between(one.hz, open_hz * 2.0 ** (one.fret / 12)), 2),
        "uncertainty_cents": round(one.uncertainty_cents, 2),
        "start_s": round(one.start_s, 2),
        "end_s": round(one.end_s, 2),
        "good": one.good,
    }


def _words(row: dict[str, float]) -> str:
    note = tr("fret {fret}", fret=row["fret"]) if row["fret"] else tr("open")
    told = tr(
        "{note}: {cents:+.1f} cents from its note, ± {spread:.1f}",
        note=note,
        cents=row["cents"],
        spread=row["uncertainty_cents"],
    )
    return told if row["good"] else tr("{told}; doubtful: rest there longer", told=told)
