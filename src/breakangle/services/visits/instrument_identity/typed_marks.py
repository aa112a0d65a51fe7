"""The serial number and the shop's tag as they are typed on a form."""

from collections.abc import Mapping
from typing import Any

from breakangle.model.identity_marks import IDENTITY_MARKS, LONGEST_MARK
from breakangle.model.words.speech import tr


def put_marks(typed: Mapping[str, str], data: dict[str, Any], problems: list[str]) -> None:
    """Put the serial number and the shop's tag into an instrument's data; one that no field tells stays as it was."""
    for name in IDENTITY_MARKS:
        if name not in typed:
            continue
        data.pop(name, None)
        mark = " ".join(typed[name].split())
        if len(mark) > LONGEST_MARK:
            problems.append(
                tr(
                    "{name} has {mark_count} characters; at most {longest_mark}",
                    name=name.replace("_", " "),
                    mark_count=len(mark),
                    longest_mark=LONGEST_MARK,
                )
            )
        elif mark:
            data[name] = mark
