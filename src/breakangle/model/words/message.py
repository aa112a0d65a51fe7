"""A message as data: which one, its figures, what it is about; the words come from a catalogue at the edge."""

from collections.abc import Mapping
from typing import Literal

from pydantic import Field

from breakangle.model.words.noun import Noun

Severity = Literal["note", "care", "stop"]
Figure = float | int | str


class Message(Noun):
    """One thing to tell a person: `key` names its sentence in the catalogue as `topic.name`.

    `values` are the figures that stand in the sentence, by name with the unit in the name; `about` is what it is of, as
    a test or a filter asks for it (`string 6`, `fret 9`, `rod`). `severity`: worth knowing, worth care, or stop here.
    """

    key: str
    values: Mapping[str, Figure] = Field(default_factory=dict)
    about: tuple[str, ...] = ()
    severity: Severity = "note"
