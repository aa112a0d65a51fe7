"""One length for all strings, or the lowest's and the highest's: `1.4`, `5/64`, `1.4/1.1`, `5/64,4/64`."""

import re

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

BETWEEN = re.compile("[/,;]")
Ends = tuple[float, float]


def two_lengths(option: str, text: str, own_unit: str, allowed_mm: Ends) -> Ends:
    """Return what was typed for the lowest and the highest string, mm.

    A stroke is a fraction's or stands between two lengths: a text that is one length is read as one, and is parted only
    where a length stands on both sides.

    Args:
        option: its name, such as `--action`, for what an error says.
        text: what was typed.
        own_unit: the unit of a bare number, `mm` or `in`.
        allowed_mm: the least and the greatest length that can be, mm.

    Raises:
        CorrectInputError: no such lengths, or two ways to read them.
    """
    from breakangle.model.measure import parse_length
    from breakangle.model.typed_number import written

    def read(part: str) -> float:
        return parse_length(part, own_unit, *allowed_mm).mm

    try:
        return (read(text),) * 2
    except CorrectInputError as cause:
        refused = cause
    signs = list(BETWEEN.finditer(text))
    found: list[Ends] = []
    for sign in signs:
        try:
            found.append((read(text[: sign.start()]), read(text[sign.end() :])))
        except CorrectInputError as cause:
            # What is no number as a whole is refused by its part.
            refused = refused if written(text) else cause
    if len(found) == 1:
        return found[0]
    if len(found) > 1 or len(signs) > 1:
        said = tr('{option} is "{text}"', option=option, text=text[:60])
        raise CorrectInputError(said, tr("one length, or two with / or , between"), "")
    raise CorrectInputError(f"{option}: {refused.given}", refused.possible, refused.remedy) from refused
