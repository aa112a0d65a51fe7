"""What an owner complains of, in parts a bench can act on, and what was answered when the instrument went back."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from breakangle.model.instrument import Instrument
from breakangle.model.words.noun import FretNumber, Noun, StringNumber
from breakangle.model.words.speech import tr

What = Literal[
    "buzz", "rattle", "dead-note", "out-of-tune", "too-high", "too-low", "hard-to-play", "crackle", "structure", "other"
]  # fmt: skip
When = Literal["open", "fretted", "soft", "hard", "always", "sometimes"]
Checked = Literal["by-ear", "by-figures", "both", "not-checked"]
Outcome = Literal["gone", "better", "unchanged", "not-found"]
Words = Annotated[str, Field(max_length=2000)]


class Answer(Noun):
    """What the owner is told about a complaint: what was found, what caused it, what was done, how it was checked."""

    outcome: Outcome
    found: Words = ""
    cause: Words = ""
    done: Words = ""
    checked: Checked = "not-checked"


class Complaint(Noun):
    """One complaint: what, where (strings; frets, 0 is the open string), when, and the owner's own words.

    `played` is how it is played, in words, such as `with a thumb pick`. Empty lists mean that nobody said.
    """

    what: What
    strings: Annotated[tuple[StringNumber, ...], Field(max_length=18)] = ()
    frets: Annotated[tuple[FretNumber, ...], Field(max_length=37)] = ()
    when: Annotated[tuple[When, ...], Field(max_length=6)] = ()
    played: Annotated[str, Field(max_length=200)] = ""
    words: Words = ""
    answer: Answer | None = None

    def misfits(self, instrument: Instrument) -> Iterator[tuple[str, str]]:
        """Yield each key that is of no place on the instrument, with what is allowed there."""
        count = len(instrument.strings)
        for place, string in enumerate(self.strings):
            if string > count:
                yield f"strings[{place}]", tr("a string from 1 to {count}", count=count)
        for place, fret in enumerate(self.frets):
            if fret > instrument.frets:
                yield f"frets[{place}]", tr("a fret from 0 (open) to {frets}", frets=instrument.frets)
