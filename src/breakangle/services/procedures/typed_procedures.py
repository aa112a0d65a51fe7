"""A procedure as its page has it: TOML text to be typed over, what is wrong with it and where, and keeping it."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.service_file import ServiceFileError
from breakangle.procedures.model import Procedure
from breakangle.procedures.shelf import procedure_from_text, procedure_json
from breakangle.services.procedures.shelf import From, procedure, procedures, save_procedure, told
from breakangle.storage.records import records
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp

LONGEST_TEXT = 100_000
WIDE = 10_000  # the page breaks its lines itself
NEW_TEXT = """name = "house-wipe"
title = "The house's wipe-down"
purpose = "How this shop wipes down."
rank = 35

[[steps]]
id = "wipe"
do = "Wipe strings and board with a dry cloth."
why = "Sweat left on them eats both."
tools = ["cloth"]
minutes = 2
"""
STEP_PLACE = re.compile(r"^\$\.steps\[(\d+)\]\.?")
STEP_LINE = re.compile(r"^\s*\[\[\s*steps\s*\]\]")
TOML_LINE = re.compile(r"\(at line (\d+), column \d+\)")
TOML_END = re.compile(r"\(at end of document\)")


@dataclass(frozen=True)
class Problem:
    """Something that is wrong: at which step from 1 up and which line of the text, as far as that can be told."""

    words: str
    step: int | None = None
    line: int | None = None


@dataclass(frozen=True)
class ProcedureText:
    """A procedure on its page: `text` as TOML, `told` as people read it, the record's version (0: not the shop's).

    `problems`: why it was not kept. `theirs`: what somebody else has made of it meanwhile, `by` whom.
    """

    name: str
    title: str
    whose: From | None
    text: str
    told: str
    version: int
    problems: tuple[Problem, ...] = ()
    theirs: str = ""
    by: str = ""


def procedure_text_of(shop: Shop, name: str) -> ProcedureText:
    """Return a procedure as its page shows it.

    Raises:
        CorrectInputError: no such procedure.
    """
    found = procedure(name, shop)
    whose = next(one.whose for one in procedures(shop) if one.name == name)
    return ProcedureText(name, found.title, whose, toml_of(found), _told(shop, name), _version(shop, name))


def new_procedure_text() -> ProcedureText:
    """Return what the form for a new procedure begins with: a short one that could be kept as it is."""
    return ProcedureText("", "", None, NEW_TEXT, "", 0)


def keep_procedure_text(shop: Shop, stamp: Stamp, text: str, name: str, seen_version: int) -> ProcedureText:
    """Keep typed TOML as the shop's own procedure; where it has `problems` or `theirs`, nothing was kept.

    Args:
        shop: where.
        stamp: who and when.
        text: what was typed.
        name: the procedure that was open; empty: a new one.
        seen_version: the version that was open; 0 where the shop had none of its own.

    Raises:
        CorrectInputError: no such procedure is there to be edited.
    """
    before = procedure_text_of(shop, name) if name else new_procedure_text()
    text = text.replace("\r\n", "\n")

    def refused(*problems: Problem, theirs: str = "", by: str = "") -> ProcedureText:
        version = _version(shop, name) if theirs else seen_version
        return ProcedureText(
            name, before.title, before.whose, text, before.told, version, problems, theirs, by
        )

    if len(text) > LONGEST_TEXT:
        return refused(Problem(f"longer than {LONGEST_TEXT} signs"))
    try:
        made = procedure_from_text(text, "the procedure")
        if made.name != name and any(one.name == made.name for one in procedures(shop)):
            return refused(Problem(f'name is "{made.name}": that one is there already; open it to edit it'))
        if made.name == name and _version(shop, name) != seen_version:
            return refused(theirs=before.text, by=_changed_by(shop, name))
        save_procedure(shop, stamp, text, seen_version or None)
    except ServiceFileError as wrong:
        return refused(*(_placed(problem, text) for problem in wrong.problems))
    except ChooseAnotherFileError as wrong:
        return refused(_not_toml(wrong.given, text))
    except EditedMeanwhileError:
        return refused(theirs=toml_of(procedure(name, shop)), by=_changed_by(shop, name))
    return procedure_text_of(shop, made.name)


def toml_of(of: Procedure) -> str:
    """Return a procedure as TOML text that reads back as the same procedure."""
    data = json.loads(procedure_json(of))
    steps = data.pop("steps")
    data.pop("format", None)
    lines = [f"{key} = {_value(value)}" for key, value in data.items()]
    for step in steps:
        lines += ["", "[[steps]]", *(f"{key} = {_value(value)}" for key, value in step.items())]
    return "\n".join(lines) + "\n"


def _value(value: Any) -> str:
    """Return a value as TOML writes it on one line; its strings are JSON's, but for the sign of deletion."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(each) for each in value) + "]"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _told(shop: Shop, name: str) -> str:
    """Return the procedure as people read it, without its title and the line under it: the page has them."""
    return told(name, shop=shop, width=WIDE).split("\n", 2)[-1].strip("\n")


def _placed(said: str, text: str) -> Problem:
    """Return a complaint about `$.steps[2].do ...` with the step's number and the line where it begins."""
    found = STEP_PLACE.match(said)
    if found is None:
        return Problem(said.removeprefix("$.").removeprefix("$ "))
    step = int(found[1]) + 1
    begun = [number for number, line in enumerate(text.split("\n"), 1) if STEP_LINE.match(line)]
    return Problem(said[found.end() :].strip(), step, begun[step - 1] if step <= len(begun) else None)


def _not_toml(said: str, text: str) -> Problem:
    found = TOML_LINE.search(said)
    line = int(found[1]) if found else text.count("\n") + 1 if TOML_END.search(said) else None
    return Problem(said, None, line)


def _own(shop: Shop, name: str) -> Iterator[records.Procedure]:
    yield from (one for one in shop.every(records.Procedure) if one.name == name)


def _version(shop: Shop, name: str) -> int:
    return next((one.version for one in _own(shop, name)), 0)


def _changed_by(shop: Shop, name: str) -> str:
    return next((one.changed_by for one in _own(shop, name)), "")
