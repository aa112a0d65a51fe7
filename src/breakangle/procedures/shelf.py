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
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.procedures.model import NOTED, Procedure
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
        reason = "nested too deep" if isinstance(cause, RecursionError) else str(cause)
        raise ChooseAnotherFileError(
            f"{source} is not TOML: {reason}", "a procedure is TOML, or JSON", "see docs/routine.md"
        ) from cause
    return procedure_from(data, source)


@cache
def own_procedures() -> Mapping[str, Procedure]:
    """Return the procedures that come with the program, by name, in the order of work."""
    entries = files("breakangle.procedures").joinpath("data").iterdir()
    found = [
        procedure_from_text(entry.read_text(encoding="utf-8"), entry.name)
        for entry in entries
        if entry.name.endswith(".toml")
    ]
    return {one.name: one for one in sorted(found, key=lambda one: (one.rank, one.name))}


def procedure_json(procedure: Procedure) -> str:
    """Return the procedure as JSON to keep, without what was never given."""
    return procedure.model_dump_json(exclude_unset=True)


def _unknown_records(found: Procedure) -> Iterator[str]:
    known = (*reading_kinds(), *NOTED)
    for number, step in enumerate(found.steps):
        for index, one in enumerate(step.record):
            if one.kind not in known:
                place = f"$.steps[{number}].record[{index}].kind"
                yield f"{place} is {one.kind!r}; it must be one of {', '.join(known)}"


def checked_facts(given: Mapping[str, str]) -> dict[str, str]:
    """Return the facts, each of a known name and one of its choices.

    Raises:
        CorrectInputError: a fact or a choice that does not exist.
    """
    from breakangle.reference.routine import facts

    for name, choice in given.items():
        fact = look_up("fact", name, facts())
        if choice not in fact.choices:
            raise CorrectInputError(
                f"{fact.words}: {choice!r}", f"one of {', '.join(fact.choices)}", "choose one"
            )
    return dict(given)
