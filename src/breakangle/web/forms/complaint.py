"""The fields of a complaint's form and of its answer's; on a form with others they have a word before their names."""

from collections.abc import Mapping
from dataclasses import fields

from breakangle.services.visits.typed_complaints import WHENS, AnswerTyped, ComplaintTyped

TICKED = "when-"  # before each moment of playing that can be ticked


def complaint_form(typed: Mapping[str, str], before: str = "") -> ComplaintTyped:
    """Return what a form says of a complaint, its fields' names after `before`."""
    own = _fields(typed, before)
    plain = ("what", "strings", "frets", "played", "words")
    return ComplaintTyped(
        **{name: own.get(name, "") for name in plain},
        when=tuple(moment for moment in WHENS if own.get(f"{TICKED}{moment}")),
    )


def answer_form(typed: Mapping[str, str], before: str = "") -> AnswerTyped:
    """Return what a form answers to a complaint, its fields' names after `before`."""
    own = _fields(typed, before)
    return AnswerTyped(**{field.name: own.get(field.name, "") for field in fields(AnswerTyped)})


def _fields(typed: Mapping[str, str], before: str) -> dict[str, str]:
    return {name.removeprefix(before): text for name, text in typed.items() if name.startswith(before)}
