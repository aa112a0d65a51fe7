"""Ten and more tunings of fretted instruments, and rows of takes as people play them, strings up to 60 c off."""

from collections.abc import Iterator

import numpy as np

from breakangle.listening.naming.naming import Asked, OpenString, orders

# Common practice, no source; low string first as the player sees them, a banjo's short fifth string first.
TUNINGS = {
    "six, standard": "E2 A2 D3 G3 B3 E4",
    "six, DADGAD": "D2 A2 D3 G3 A3 D4",
    "six, open G": "D2 G2 D3 G3 B3 D4",
    "six, drop C": "C2 G2 C3 F3 A3 D4",
    "seven": "B1 E2 A2 D3 G3 B3 E4",
    "eight": "F#1 B1 E2 A2 D3 G3 B3 E4",
    "bass": "E1 A1 D2 G2",
    "bass, five": "B0 E1 A1 D2 G2",
    "ukulele": "G4 C4 E4 A4",
    "mandolin": "G3 G3 D4 D4 A4 A4 E5 E5",
    "banjo": "G4 D3 G3 B3 D4",
}
STEPS = {"C": -9, "D": -7, "E": -5, "F": -4, "F#": -3, "G": -2, "A": 0, "B": 2}


def note_hz(note: str) -> float:
    """Equal temperament from A4 = 440 Hz (ISO 16)."""
    return float(440.0 * 2 ** ((STEPS[note[:-1]] + 12 * (int(note[-1]) - 4)) / 12))


def strings_of(tuning: str) -> list[OpenString]:
    """The strings of a tuning, string 1 last in the list."""
    notes = TUNINGS[tuning].split()
    return [
        OpenString(len(notes) - at, note_hz(note), 22, 5 if tuning == "banjo" and at == 0 else 0)
        for at, note in enumerate(notes)
    ]


def played_rows(tuning: str, count: int) -> Iterator[tuple[list[OpenString], list[Asked], list[float]]]:
    """Rows played in every usual order, each note once to three times, with what was played and its pitch."""
    strings = strings_of(tuning)
    rng = np.random.default_rng(len(tuning))
    for trial in range(count):
        off = {one.number: float(rng.uniform(-60, 60)) for one in strings}
        if tuning == "mandolin":
            off |= {number + 1: off[number] + float(rng.uniform(-8, 8)) for number in (1, 3, 5, 7)}
        every = orders(strings)
        items = [item for item in every[trial % len(every)] for _ in range(1 + (trial // len(every)) % 3)]
        by_number = {one.number: one for one in strings}
        pitches = []
        for item in items:
            error = rng.normal(5, 4) if item.kind == "fretted" else rng.normal(0, 0.3)
            octave = 1 if item.kind == "open" else 2
            hz = by_number[item.string].open_hz * octave * 2 ** ((off[item.string] + error) / 1200)
            pitches.append(float(hz))
        yield strings, items, pitches
