"""Words of the form STRING=VALUE, as verbs about strings take them."""

from collections.abc import Callable, Sequence
from typing import TypeVar

from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import parse_number
from breakangle.model.words.speech import tr

Found = TypeVar("Found")


def by_string(words: Sequence[str], read: Callable[[str], Found], example: str) -> dict[int, Found]:
    """Return what `read` makes of each value, by string number.

    Raises:
        CorrectInputError: not of that form, a string named twice, or a value that `read` refuses.
    """
    found: dict[int, Found] = {}
    for word in words:
        number, equals, value = word.partition("=")
        if not equals or not number.strip().isdigit():
            raise CorrectInputError(f'"{word}"', tr("STRING=VALUE, such as {example}", example=example))
        if int(number) in found:
            raise CorrectInputError(
                tr("string {number} is named twice", number=int(number)), tr("each string once")
            )
        found[int(number)] = read(value.strip())
    return found


def number_in(text: str) -> float:
    """Return a plain number, written with a point or a comma.

    Raises:
        CorrectInputError: not a number.
    """
    try:
        return parse_number(text)[0]
    except CorrectInputError as cause:
        raise CorrectInputError(tr('"{text}" is not a number', text=text), tr("such as 72.5")) from cause
