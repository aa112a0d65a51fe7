"""Whether a figure's unit was said, or is still asked for: keys that stand beside it in the service file.

`unit` is the unit a person typed or chose (its length stands in mm all the same), `unit_unanswered` marks a figure that
was kept as typed and whose unit nobody has said yet, `typed` holds the very text and `could_be` the units it was asked
about, the one it was taken in first; `could_be_slip_mm` is its length
were its decimal point one place off. The form keeps keys beside those it asks for, so that older programs read and
write such a file unharmed.
"""

from typing import Any, TypeVar

from breakangle.model.words.noun import Noun

Told = TypeVar("Told", bound=Noun)
UNIT, UNANSWERED, TYPED, COULD_BE = "unit", "unit_unanswered", "typed", "could_be"
SLIP = "could_be_slip_mm"  # what it would be, in mm, were it a slip of the decimal point
RAISED = "raised"  # beside a cut's mm: it was filled or shimmed, and truly raises the string
AS_TOLD = "as_told"  # beside a string: its note and gauge are right, however it pulls beside the others
KEYS = (UNIT, UNANSWERED, TYPED, COULD_BE, SLIP, RAISED, AS_TOLD)


def unit_said(noun: Noun) -> bool:
    """Return whether a person said which unit this figure, or all of this file, is in."""
    return isinstance((noun.model_extra or {}).get(UNIT), str)


def unit_open(noun: Noun) -> bool:
    """Return whether the unit of this figure was asked for and is not answered yet: until then it informs nothing."""
    return (noun.model_extra or {}).get(UNANSWERED) is True


def as_told(noun: Noun) -> bool:
    """Return whether a person said that a string's note and gauge are right, however it pulls."""
    return (noun.model_extra or {}).get(AS_TOLD) is True


def without_marks(noun: Told) -> Told:
    """Return a noun without what a person said of how it was told: another string is not said to be right."""
    extra = noun.model_extra or {}
    if not any(key in extra for key in KEYS):
        return noun
    kept = {key: value for key, value in noun.model_dump(exclude_unset=True).items() if key not in KEYS}
    return type(noun).model_validate(kept)


def as_typed(noun: Noun) -> str:
    """Return the text that was typed for this figure; empty where none was kept."""
    return str((noun.model_extra or {}).get(TYPED, ""))


def answered(body: dict[str, Any], mm: float, unit: str) -> dict[str, Any]:
    """Return a reading's data with its length in mm and the unit a person chose; no question is open any more."""
    rest = {key: value for key, value in body.items() if key != UNANSWERED}
    return rest | {"mm": mm, UNIT: unit}
