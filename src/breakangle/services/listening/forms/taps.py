"""Taps on the body: the notes it sings, whether they moved since the last visit, which notes of strings they pull.

What moves with a note at the bridge is found by a weight stuck there: it lowers the note, by how much tells the mass
(M. French (2007), Response variation in a group of acoustic guitars, Sound and Vibration 41, 18, from memory; derived
for one resonance: m = weight / ((f / f_loaded)² − 1)).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from breakangle.drawings.charts.dots import Axes, Series
from breakangle.listening.body.taps import TapResonance, resonances_of, taps_in
from breakangle.model.body import Body, Resonance
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import tr, tr_n
from breakangle.planning.state.effects.body import pulls
from breakangle.services.listening.forms.form import Answer, FloatArray, whole_sound
from breakangle.services.listening.strokes import board_for

# Where nothing else is said below: common practice, no source.
USUAL_MASS_KG = 0.15  # moves with a guitar top's own note; until a weight has told it
SAID_FROM_CENTS = 3.0
MOVED_RATIO = 0.015  # a shift of a note that no change of humidity within a day makes
FARTHEST_RATIO = 0.15  # how far a weight, or the years, may move one note
MOST_STORED, LOWEST_HZ = 12, 60.0
MOST_TOLD = 4  # notes of each string in words; chosen
LEAST_FALL_RATIO = 0.004  # a weight that moves a note by less tells nothing of its mass


@dataclass(frozen=True)
class BodyNote:
    """One note of the body: as heard, the mass that moves with it in kg, and whether a weight told that mass."""

    heard: TapResonance
    mass_kg: float
    weighed: bool

    def resonance(self) -> Resonance:
        """Return it as the service file has it."""
        return Resonance(
            hz=round(self.heard.hz, 2),
            mass_kg=round(self.mass_kg, 4),
            quality_ratio=round(self.heard.quality_ratio, 1),
        )


def taps_heard(
    path: Path, service: Service | None, loaded: Path | None = None, added_g: float | None = None
) -> Answer:
    """Return the notes of a tapped body and the notes of the strings that they pull.

    Args:
        path: taps on the bridge, the strings damped.
        service: the instrument; without it no string is looked at.
        loaded: the same with a weight stuck to the bridge.
        added_g: that weight.

    Raises:
        ChooseAnotherFileError: a recording cannot be read or is too long.
        CorrectInputError: a weight without its recording, or the other way about.
        InstallError: a phone recording, and its reader is not installed.
    """
    if (loaded is None) != (added_g is None) or (added_g is not None and not 0.5 <= added_g <= 500.0):
        raise CorrectInputError(
            tr("a weight of {added_g} g", added_g=added_g),
            tr("0.5 to 500 g, with the taps recorded while it is stuck to the bridge"),
            tr("name both or none"),
        )
    below = () if loaded is None else resonances_of(taps_in(*whole_sound(loaded)))
    return taps_of(*whole_sound(path), service, below, added_g)


def taps_of(
    samples: FloatArray,
    rate_hz: float,
    service: Service | None,
    below: Sequence[TapResonance] = (),
    added_g: float | None = None,
) -> Answer:
    """Return the notes of a tapped body in a sound, mono, shape (samples,).

    `below` are its notes while a weight of `added_g` is stuck to the bridge.
    """
    heard = resonances_of(taps_in(samples, rate_hz))
    if not heard:
        told = tr(
            "No taps were heard: damp the strings, tap the bridge with a knuckle six times, half a second apart."
        )
        return Answer((told,), {"format": "breakangle/taps/1", "resonances": [], "pulls": []}, usable=False)
    notes = [_weighed(one, below, added_g) for one in heard]
    pulled = [] if service is None else pulled_notes(service, notes)
    words = [_words(one) for one in notes] + ([] if service is None else _shifts(service, notes))
    data = {
        "format": "breakangle/taps/1",
        "resonances": [_json(one) for one in notes],
        "pulls": [
            {"string": string, "fret": fret, "cents": round(cents, 1)} for string, fret, cents in pulled
        ],
    }
    level = tuple(one.heard.level_db for one in notes)
    series = (Series(tr("body"), tuple(one.heard.hz for one in notes), level),)
    axes = Axes(tr("Notes of the body"), tr("Hz"), tr("dB below the strongest"))
    return Answer((*words, *_pull_words(pulled)), data, series, axes)


def _pull_words(pulled: Sequence[tuple[int, int, float]]) -> list[str]:
    """Say of each string which of its notes the body pulls most; the data has all of them."""
    told = []
    for string in dict.fromkeys(one[0] for one in pulled):  # the string with the worst note first
        rows = [(fret, cents) for number, fret, cents in pulled if number == string]
        notes = [
            tr("{note} by {cents:+.0f} cents", note=_note(fret), cents=cents)
            for fret, cents in rows[:MOST_TOLD]
        ]
        rest = len(rows) - MOST_TOLD
        if rest > 0:
            notes.append(tr_n("one more by less", "{count} more by less", rest, count=rest))
        told.append(
            tr(
                "It pulls string {string}, {notes}: the saddle is not to blame there",
                string=string,
                notes=", ".join(notes),
            )
        )
    return told


def _note(fret: int) -> str:
    return tr("fret {fret}", fret=fret) if fret else tr("open")


def _weighed(one: TapResonance, below: Sequence[TapResonance], added_g: float | None) -> BodyNote:
    """Return a note with its mass, by the note of the loaded body that lies next below it."""
    fits = [other for other in below if 1 + LEAST_FALL_RATIO < one.hz / other.hz < 1 + FARTHEST_RATIO]
    if not fits or added_g is None:
        return BodyNote(one, USUAL_MASS_KG, False)
    near = max(fits, key=lambda other: other.hz)
    mass_kg = added_g * 1e-3 / ((one.hz / near.hz) ** 2 - 1)
    return BodyNote(one, float(np.clip(mass_kg, 0.005, 20.0)), True)


def pulled_notes(service: Service, notes: Sequence[BodyNote]) -> list[tuple[int, int, float]]:
    """Return string, fret (0 open) and cents of every note that the body pulls by three cents and more, worst first."""
    board = board_for(with_body(service, notes))
    found = None if board is None else pulls(board)
    if found is None:
        return []
    where = np.argwhere(np.abs(found.cents) >= SAID_FROM_CENTS)
    rows = [(int(row) + 1, int(fret), float(found.cents[row, fret])) for row, fret in where]
    return sorted(rows, key=lambda one: -abs(one[2]))


def with_body(service: Service, notes: Sequence[BodyNote]) -> Service:
    """Return the service whose instrument's body has these notes; what harmonics told of open notes stays."""
    instrument = service.instrument
    strongest = sorted(notes, key=lambda one: -one.heard.level_db)[:MOST_STORED]
    kept = tuple(one.resonance() for one in sorted(strongest, key=lambda one: one.heard.hz))
    body = (instrument.body or Body()).model_copy(update={"resonances": kept})
    return service.model_copy(update={"instrument": instrument.model_copy(update={"body": body})})


def body_of(answer: Answer) -> tuple[BodyNote, ...]:
    """Return the notes of an answer, as `with_body` takes them."""
    return tuple(
        BodyNote(
            TapResonance(row["hz"], row["uncertainty_hz"], row["quality_ratio"], row["quality_spread_ratio"],
                         row["level_db"]),
            row["mass_kg"],
            row["mass_weighed"],
        )
        for row in answer.data["resonances"]
    )  # fmt: skip


def _shifts(service: Service, notes: Sequence[BodyNote]) -> list[str]:
    """Say which notes of the body moved since they were last tapped."""
    known = service.instrument.body.resonances if service.instrument.body is not None else ()
    told = []
    for one in known:
        near = min(notes, key=lambda note: abs(np.log(note.heard.hz / one.hz)))
        ratio = near.heard.hz / one.hz - 1
        if MOVED_RATIO < abs(ratio) < FARTHEST_RATIO:
            told.append(
                tr(
                    "The note at {now_hz:.0f} Hz was at {then_hz:.0f} Hz: look for a loose brace or bridge, or a "
                    "change of humidity",
                    now_hz=near.heard.hz,
                    then_hz=one.hz,
                )
            )
    return told


def _words(one: BodyNote) -> str:
    mass = (
        tr("{mass_kg:.2f} kg move with it", mass_kg=one.mass_kg)
        if one.weighed
        else tr("{mass_kg:.2f} kg are taken to move with it, until a weight has told", mass_kg=one.mass_kg)
    )
    return tr(
        "The body sings at {hz:.1f} Hz, ± {spread_hz:.1f}, Q {quality:.0f}; {mass}",
        hz=one.heard.hz,
        spread_hz=one.heard.spread_hz,
        quality=one.heard.quality_ratio,
        mass=mass,
    )


def _json(one: BodyNote) -> dict[str, float | bool]:
    return {
        "hz": round(one.heard.hz, 2),
        "uncertainty_hz": round(one.heard.spread_hz, 2),
        "quality_ratio": round(one.heard.quality_ratio, 1),
        "quality_spread_ratio": round(one.heard.spread_ratio, 3),
        "level_db": round(one.heard.level_db, 1),
        "mass_kg": round(one.mass_kg, 4),
        "mass_weighed": one.weighed,
    }
