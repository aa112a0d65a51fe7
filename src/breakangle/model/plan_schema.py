"""The JSON Schema of a plan in either form, made from the models and from the kinds there are."""

from collections.abc import Sequence
from functools import reduce
from operator import or_
from typing import Any, Literal

from pydantic import ConfigDict, Field, create_model

from breakangle.model.plan import PLAN_FORMAT, Finding, Question, Response, Solved, Step, Trip, Verdict
from breakangle.model.plan_form import OLD_FORMAT, Form
from breakangle.model.service import Targets
from breakangle.model.service_file import Kinds
from breakangle.model.words.message import Message

OldVerdict = Literal["leave", "adjust", "beyond-setup"]
# A form has the keys that are told of and no others; what a kind holds may grow.
CLOSED = ConfigDict(extra="forbid")
_model: Any = create_model  # what is made here has no type that could be checked
SCHEMA_DRAFT = "https://json-schema.org/draft/2020-12/schema"


def plan_schema(kinds: Kinds, form: Form = "plan/2") -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a plan in the form asked for."""
    new = form == "plan/2"
    name = PLAN_FORMAT if new else OLD_FORMAT
    reading = _any(kinds.readings)
    solved = _model(
        "Solved",
        __doc__=Solved.__doc__,
        readings=(_many(reading), ...),
        responses=(_many(Response), ...),
    )
    targets: Any = _model(
        "Targets",
        __doc__=Targets.__doc__,
        hand=(Targets.model_fields["hand"].annotation, "medium"),
        no_buzz_at=(Targets.model_fields["no_buzz_at"].annotation, None),
        wanted=(_many(_any(kinds.targets)), ()),
    )
    held: dict[str, Any] = {
        "format": (Literal[name], ...),
        "verdict": (Verdict if new else OldVerdict, ...),
        "steps": (_many(_any(_steps(kinds, reading, new))), ...),
        "now": (solved, ...),
        "then": (solved, ...),
        "targets": (targets, ...),
        "notes": (tuple[str, ...], ...),
        "read_again": (_many(reading), ()),
        "read_next": (reading, Field(default=None, description="the most telling further reading")),
    }
    if new:
        held |= {key: (_many(noun), ...) for key, noun in _new_nouns(reading).items()}
    whole: dict[str, Any] = _model("Plan", __config__=CLOSED, **held).model_json_schema()
    return {"$schema": SCHEMA_DRAFT} | _as_written(whole) | {"title": name}


def _many(kind: Any) -> Any:
    """Return the type of a list of `kind`."""
    return tuple[kind, ...]


def _any(kinds: Sequence[Any]) -> Any:
    """Return the type of whatever is one of `kinds`."""
    return reduce(or_, kinds)


def _steps(kinds: Kinds, reading: Any, new: bool) -> list[Any]:
    """Return a model for a step of every kind of adjustment: its own keys beside those of every step."""
    held: dict[str, Any] = {
        "reason": (str, ...),
        "caution": (tuple[str, ...], ...),
        "screw": (str | None, None),
        "expect": (_many(reading), ...),
    }
    if new:
        held["dangers"] = (tuple[str, ...], Field(description="what can hurt in it, by name"))
        held["trip"] = (int, Field(ge=1, description="the trip it belongs to"))
    return [
        _model(f"{kind.__name__}Step", __base__=_closed(kind), __doc__=Step.__doc__, **held)
        for kind in kinds.adjustments
    ]


def _closed(kind: type[Any]) -> Any:
    return type(
        kind.__name__,
        (kind,),
        {"model_config": CLOSED, "__module__": kind.__module__, "__doc__": kind.__doc__},
    )


def _new_nouns(reading: Any) -> dict[str, Any]:
    """Return the models of what the newer form holds more, as they are written."""
    readings: Any = (_many(reading), ...)
    said: Any = _model("Message", __base__=_closed(Message), __doc__=Message.__doc__, words=(str, ""))
    return {
        "trips": _model("Trip", __base__=_closed(Trip), __doc__=Trip.__doc__, reads=readings),
        "findings": _model(
            "Finding",
            __base__=_closed(Finding),
            __doc__=Finding.__doc__,
            message=(said, ...),
            rests_on=readings,
        ),
        "questions": _model(
            "Question",
            __base__=_closed(Question),
            __doc__=Question.__doc__,
            message=(said, ...),
            readings=readings,
        ),
    }


def _as_written(schema: dict[str, Any]) -> dict[str, Any]:
    """Return the schema with names that tell formats and kinds apart required, as they are always written."""
    for part in (schema, *schema["$defs"].values()):
        held = part.get("properties", {})
        for one in held.values():
            one.pop("title", None)
        names = [name for name, one in held.items() if "const" in one]
        for name in names:
            held[name].pop("default", None)
        if names:
            part["required"] = names + [one for one in part.get("required", []) if one not in names]
    return schema
