"""A kind of instrument that the program's tables do not have, copied from the nearest."""

from collections.abc import Mapping

from breakangle.model.service import Service
from breakangle.reference.families import family, family_with
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.kinds.boxes import kind_typed
from breakangle.services.service_files.kinds.copied import key_for, table_of


def copy_kind(nearest: str, name: str, changes: Mapping[str, str] | None = None) -> Service:
    """Return a service, with nothing read, of a new kind of instrument copied from the nearest there is.

    The instrument carries the kind's table, so that plans, and files written of it, know the kind anywhere.

    Args:
        nearest: a kind of the program's tables, such as `mandolin`.
        name: what the new kind is called.
        changes: what differs, as it is typed, by the names that `breakangle kind` prints: `{"scale_mm": "530 mm",
            "medium_action_low_mm": "2.0"}`; `strings` is a text with a line for each string, string 1 first: note,
            diameter, make, then `core`, `wrap`, `course` or `fret`.

    Raises:
        CorrectInputError: a kind that the tables do not know, a name without a letter, or what cannot be right.

    Source: the nearest kind's figures are those of docs/reference/families.md, each with its source.
    """
    table = kind_typed(table_of(family(nearest)), {**(changes or {}), "words": name})
    return empty_service(family_with(key_for(name, ()), table))
