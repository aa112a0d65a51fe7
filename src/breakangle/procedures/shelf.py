"""The procedures there are, found by listing their folder; and the same check for a shop's own."""

import json
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from pydantic import ValidationError

from breakangle.model.complaint import complaints
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.json_text import parse_json
from breakangle.model.service_file import ServiceFileError
from breakangle.model.typed_number import whole_within
from breakangle.model.words.speech import spoken_language, tr
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.procedures.model import MOST_STRINGS, NOTED, STRING_COUNT, Procedure
from breakangle.reference.rows import look_up


def procedure_from(data: Any, source: str) -> Procedure:
    """Return the procedure in `data` (as read from TOML or JSON), checked.

    Raises:
        ServiceFileError: values that cannot be right, each with its path, value and what is allowed.
    """
    # TOML and JSON have lists, the model tuples: both come in through JSON, so that one check serves.
    plain = json.loads(json.dumps(data, default=str))
    try:
        found = Procedure.model_validate_json(json.dumps(plain))
    except ValidationError as refused:
        told = [one.replace("input should be ", "") for one in complaints(refused, Procedure, plain)]
        raise ServiceFileError(told, source) from refused
    problems = list(_unknown_records(found))
    if problems:
        raise ServiceFileError(problems, source)
    return found


def procedure_from_text(text: str, source: str) -> Procedure:
    """Return the procedure in `text`: TOML, or JSON where it begins with a brace.

    Raises:
        ChooseAnotherFileError: neither TOML nor JSON.
        ServiceFileError: values that cannot be right.
    """
    if text.lstrip().startswith("{"):
        return procedure_from(parse_json(text, source), source)
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as cause:
        reason = tr("nested too deep") if isinstance(cause, RecursionError) else str(cause)
        raise ChooseAnotherFileError(
            tr("{source} is not TOML: {reason}", source=source, reason=reason),
            tr("a procedure is TOML, or JSON"),
            tr("see docs/routine.md"),
        ) from cause
    return procedure_from(data, source)


def own_procedures() -> Mapping[str, Procedure]:
    """Return the procedures that come with the program, by name, in the order of work and the language spoken."""
    return _own_procedures(spoken_language())


# The columns of a procedure that hold words for people; all others are keys and figures.
WORD_COLUMNS = frozenset({"title", "purpose", "do", "why", "words", "tools"})


@cache
def _own_procedures(language: str) -> Mapping[str, Procedure]:
    del language  # what is kept is kept for one
    entries = files("breakangle.procedures").joinpath("data").iterdir()
    found = [
        procedure_from(said_in_rows(tomllib.loads(entry.read_text(encoding="utf-8"))), entry.name)
        for entry in entries
        if entry.name.endswith(".toml")
    ]
    return {one.name: one for one in sorted(found, key=lambda one: (one.rank, one.name))}


def said_in_rows(row: Any, column: str = "") -> Any:
    """Return a procedure's rows with their words in the language spoken."""
    if isinstance(row, dict):
        return {key: said_in_rows(value, key) for key, value in row.items()}
    if isinstance(row, list):
        return [said_in_rows(one, column) for one in row]
    return tr(row) if column in WORD_COLUMNS and isinstance(row, str) else row


def procedure_json(procedure: Procedure) -> str:
    """Return the procedure as JSON to keep, without what was never given."""
    return procedure.model_dump_json(exclude_unset=True)


def _unknown_records(found: Procedure) -> Iterator[str]:
    known = (*reading_kinds(), *NOTED)
    for number, step in enumerate(found.steps):
        for index, one in enumerate(step.record):
            if one.kind not in known:
                place = f"$.steps[{number}].record[{index}].kind"
                yield tr(
                    "{place} is {kind!r}; it must be one of {known}",
                    place=place,
                    kind=one.kind,
                    known=", ".join(known),
                )


def checked_facts(given: Mapping[str, str]) -> dict[str, str]:
    """Return the facts, each of a known name and one of its choices.

    Raises:
        CorrectInputError: a fact or a choice that does not exist.
    """
    from breakangle.reference.routine import facts

    for name, choice in given.items():
        if name == STRING_COUNT and whole_within(choice, 1, MOST_STRINGS) is not None:
            continue
        fact = look_up("fact", name, facts())
        if choice not in fact.choices:
            raise CorrectInputError(
                f"{fact.words}: {choice!r}",
                tr("one of {choices}", choices=", ".join(fact.choices)),
                tr("choose one"),
            )
    return dict(given)
