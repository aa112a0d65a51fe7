"""What a form sent, as plain text by name: for forms whose fields depend on the instrument."""

from typing import Annotated

from fastapi import Depends, Request

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr

MOST_FIELDS, LONGEST_SIGNS = 600, 20_000


async def _typed(request: Request) -> dict[str, str]:
    form = await request.form(max_fields=MOST_FIELDS, max_files=0)
    found = {name: value for name, value in form.multi_items() if isinstance(value, str)}
    if any(len(value) > LONGEST_SIGNS for value in found.values()):
        raise CorrectInputError(
            tr("that is more than a sheet holds"),
            tr("{longest_signs} signs at most", longest_signs=LONGEST_SIGNS),
            tr("shorten it"),
        )
    return found


TheTyped = Annotated[dict[str, str], Depends(_typed)]
