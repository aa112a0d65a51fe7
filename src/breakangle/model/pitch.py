"""Note names and equal temperament (A4 at the reference, ISO 16: 440 Hz)."""

import math
import re

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

CENTS_PER_OCTAVE = 1200.0
_STEP = {"C": -9, "D": -7, "E": -5, "F": -4, "G": -2, "A": 0, "B": 2}
_ACCIDENTAL = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
NOTE_PATTERN = r"^([A-Ga-g])([#♯b♭]?)([0-8])$"


def semitones_from_a4(note: str) -> int:
    """Return how many semitones `note` (`E4`, `C#3`, `Bb1`) lies above A4.

    Raises:
        CorrectInputError: when it is not a note name with an octave.
    """
    found = re.match(NOTE_PATTERN, note)
    if found is None:
        raise CorrectInputError(
            tr("{note!r} is not a note", note=note),
            tr("a note is a letter A to G, # or b if needed, and an octave: E4, C#3, Bb1"),
        )
    letter, accidental, octave = found.groups()
    return _STEP[letter.upper()] + _ACCIDENTAL[accidental] + 12 * (int(octave) - 4)


def note_hz(note: str, reference_hz: float = 440.0) -> float:
    """Return the equal-tempered frequency of `note` in Hz.

    Raises:
        CorrectInputError: when it is not a note name with an octave.
    Source: ISO 16:1975 (A4 = 440 Hz); twelve equal steps to the octave.
    """
    return float(reference_hz * 2.0 ** (semitones_from_a4(note) / 12.0))


def cents_between(hz: float, from_hz: float) -> float:
    """Return how far `hz` lies above `from_hz`, in cents."""
    return CENTS_PER_OCTAVE * math.log2(hz / from_hz)


_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def note_of(semitones: int) -> str:
    """Return the name of the note so many semitones above A4 (below: negative), with a sharp where it needs one.

    Raises:
        CorrectInputError: below C0 or above B8.
    """
    octave, step = divmod(semitones + 9 + 48, 12)
    if not 0 <= octave <= 8:
        raise CorrectInputError(
            tr("{semitones} semitones from A4", semitones=semitones), "C0 to B8", tr("choose another tuning")
        )
    return f"{_NAMES[step]}{octave}"
