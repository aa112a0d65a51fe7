"""What a model refused, in our words: JSON path, value, what is allowed."""

from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from breakangle.model.complaint_hints import hint
from breakangle.model.json_text import shown, step
from breakangle.model.words.speech import mark, tr

_TAGGED_LISTS = ("readings", "work", "wanted")
_TAGS = ("quantity", "adjust")
Place = str | int
_PLAIN = {
    "string_type": mark("text"),
    "tuple_type": "a list",
    "model_type": mark("an object"),
    "model_attributes_type": mark("an object"),
    "string_too_short": mark("text that is not empty"),
    "string_pattern_mismatch": mark("a note name with its octave, such as E4, C#3 or Bb1"),
    "none_required": mark("null"),
    "missing": mark("given"),
}


def complaints(refused: ValidationError, model: type[BaseModel], data: Any) -> list[str]:
    """Return a sentence for each thing that `model` refused in `data`."""
    errors = refused.errors()
    expected = _expected(model, data, [error["loc"] for error in errors if error["type"] == "missing"])
    found = [sentence for error in errors for sentence in _sentences(error, data, expected)]
    return list(dict.fromkeys(found))


def _expected(model: type[BaseModel], data: Any, missing: list[tuple[Place, ...]]) -> dict[Any, str]:
    """Return what each missing value should be: what the model says when it stands there as null."""
    if not missing:
        return {}
    trial = deepcopy(data)
    for loc in missing:
        container, last = _value_at(loc[:-1], trial), loc[-1]
        if isinstance(container, dict):
            container[last] = None
        elif isinstance(container, list):
            container.append(None)
    try:
        model.model_validate(trial)
    except ValidationError as refused:
        return {error["loc"]: _allowed(error) for error in refused.errors() if error["type"] != "missing"}
    return {}


def _value_at(places: Sequence[Place], data: Any) -> Any:
    return ([data] + [value for _, value in _followed(places, data)])[-1]


def _followed(places: Sequence[Place], data: Any) -> Iterator[tuple[Place, Any]]:
    """Yield each place that is in the file, with its value; names of a union's members are no places."""
    value, listed = data, ""
    for number, place in enumerate(places):
        if isinstance(value, list) and isinstance(place, int) and place < len(value):
            value = value[place]
            yield place, value
            inner = places[number + 1] if number + 1 < len(places) else None
            tags = [value.get(tag) for tag in _TAGS] if isinstance(value, dict) else []
            if listed in _TAGGED_LISTS and inner in tags:
                yield from _followed(places[number + 2 :], value)
                return
        elif isinstance(value, dict) and place in value:
            listed, value = str(place), value[place]
            yield place, value


def _sentences(error: ErrorDetails, data: Any, expected: dict[Any, str]) -> Iterator[str]:
    context = error.get("ctx", {})
    found = context.get("places") or [(context.get("key", ""), context.get("allowed", ""))]
    for key, allowed in found:
        inner = _keys(key)
        if error["type"] == "missing":
            inner = [error["loc"][-1]]
        outer = error["loc"][:-1] if error["type"] == "missing" else error["loc"]
        allowed = expected.get(error["loc"], allowed or _allowed(error))
        yield _sentence(outer, inner, data, allowed, context)


def _sentence(
    outer: Sequence[Place], inner: Sequence[Place], data: Any, allowed: str, context: Mapping[str, Any]
) -> str:
    """Return one complaint about the value at `inner` below `outer`, with what it was likely meant as."""
    path, value = "$", _value_at(outer, data)
    for place, _ in _followed(outer, data):
        path = step(path, place)
    for place in inner:
        path = step(path, place)
        try:
            value = value[place]
        except (KeyError, IndexError, TypeError):
            return tr("{path} is missing", path=path) + (
                "" if allowed == tr(_PLAIN["missing"]) else tr("; it must be {allowed}", allowed=allowed)
            )
    last = next((one for one in reversed([*outer, *inner]) if isinstance(one, str)), "")
    return tr(
        "{path} is {shown}; it must be {allowed}{hint}",
        path=path,
        shown=shown(value),
        allowed=allowed,
        hint=hint(last, value, context, data),
    )


def _keys(key: str) -> list[Place]:
    """Return `a[0].b` as its places."""
    places: list[Place] = []
    for part in key.replace("]", "").split("."):
        name, *index = part.split("[")
        places += [name] if name else []
        places += [int(one) for one in index]
    return places


def _allowed(error: ErrorDetails) -> str:
    """Return in our words what the model would have taken."""
    context = error.get("ctx", {})
    if "allowed" in context:
        return str(context["allowed"])
    if error["type"] == "too_short":
        return tr("a list of at least {context}", context=context.get("min_length"))
    if error["type"] == "too_long":
        return tr("a list of at most {context}", context=context.get("max_length"))
    if error["type"] == "string_too_long":
        return tr("text of at most {context} characters", context=context.get("max_length"))
    if error["type"] == "literal_error":
        return tr("one of {context}", context=context.get("expected"))
    return tr(_PLAIN.get(error["type"], error["msg"].lower()))
