"""The service file: read with a JSON path, the value and what is allowed in every complaint; written whole."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any, Union

from pydantic import Discriminator, Field, SerializeAsAny, Tag, ValidationError, create_model
from pydantic_core import ErrorDetails, PydanticCustomError

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.reading import Adjustment, Reading, Target
from breakangle.model.service import SERVICE_FORMAT, Hand, Service, Targets

LARGEST_FILE_BYTES = 8_000_000


@dataclass(frozen=True)
class Kinds:
    """The kinds of reading, adjustment and target that a file may hold."""

    readings: tuple[type[Reading], ...]
    adjustments: tuple[type[Adjustment], ...]
    targets: tuple[type[Target], ...]


class ServiceFileError(CorrectInputError):
    """One or more values of a service file cannot be right; `problems` has a sentence for each."""

    def __init__(self, problems: Sequence[str], source: str) -> None:
        """Keep every problem; the message tells the first and how many more there are."""
        self.problems = tuple(problems)
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        super().__init__(f"{source}: {problems[0]}{more}")


def _union(kinds: Sequence[type[Any]], key: str) -> Any:
    """Return the tagged union of `kinds`, told apart by `key`; an unknown tag names the known ones."""
    names = {kind.model_fields[key].annotation.__args__[0]: kind for kind in kinds}

    def tag(value: Any) -> str:
        found = value.get(key) if isinstance(value, dict) else getattr(value, key, None)
        if not isinstance(value, (dict, *kinds)):
            raise PydanticCustomError("at", "must be {allowed}", {"allowed": "an object"})
        if found is None or not isinstance(found, str) or found not in names:
            allowed = "one of " + ", ".join(names)
            raise PydanticCustomError("at", "must be {allowed}", {"allowed": allowed, "key": key})
        return found

    members = tuple(Annotated[kind, Tag(name)] for name, kind in names.items())
    return Annotated[Union[members], Discriminator(tag)]  # noqa: UP007 (built at run time)


@lru_cache(maxsize=4)
def service_model(kinds: Kinds) -> type[Service]:
    """Return the Service class whose lists hold exactly these kinds; the JSON Schema comes from it."""
    target = SerializeAsAny[_union(kinds.targets, "quantity")]  # type: ignore[misc]
    targets = create_model(
        "Targets", __base__=Targets, hand=(Hand, "medium"), wanted=(Annotated[tuple[target, ...], Field()], ())
    )
    reading = _union(kinds.readings, "quantity")
    adjustment = _union(kinds.adjustments, "adjust")
    return create_model(
        "Service",
        __base__=Service,
        targets=(targets | None, None),
        readings=(Annotated[tuple[reading, ...], Field(max_length=10000)], ()),
        work=(Annotated[tuple[adjustment, ...], Field(max_length=10000)], ()),
    )


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return the object; refuse a key that stands twice, since one of the two would be lost."""
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = next(key for key, _ in pairs if [k for k, _ in pairs].count(key) > 1)
        raise CorrectInputError(f"the key {twice!r} stands twice in one object", "each key once")
    return found


def read_text(path: Path) -> str:
    """Return the file's text.

    Raises:
        ChooseAnotherFileError: missing, a folder, unreadable, larger than 8 MB, or not UTF-8.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE_BYTES:
            raise ChooseAnotherFileError(
                f"{path} has {size / 1e6:.0f} MB", f"a service file has at most {LARGEST_FILE_BYTES / 1e6:.0f} MB"
            )
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as cause:
        raise ChooseAnotherFileError(f"{path} is not text in UTF-8", "a service file is JSON in UTF-8") from cause
    except OSError as cause:
        reason = (cause.strerror or "cannot be read").lower()
        raise ChooseAnotherFileError(f"{path} cannot be read: {reason}", "", "name another file") from cause


def parse_service(text: str, kinds: Kinds, source: str = "service file") -> Service:
    """Return the service that `text` holds.

    Raises:
        ChooseAnotherFileError: not JSON, not one object, or another format or version.
        ServiceFileError: a value that cannot be right, with JSON path, value and allowed range.
    """
    try:
        data = json.loads(text, object_pairs_hook=_once)
    except CorrectInputError as cause:
        raise ServiceFileError([str(cause).rstrip(".")], source) from cause
    except json.JSONDecodeError as cause:
        place = f"line {cause.lineno}, column {cause.colno}"
        raise ChooseAnotherFileError(f"{source} is not JSON: {cause.msg.lower()} at {place}") from cause
    except (ValueError, RecursionError) as cause:
        raise ChooseAnotherFileError(f"{source} is not JSON that can be read: nested or written too long") from cause
    _check_format(data, source)
    try:
        return service_model(kinds).model_validate(data)
    except ValidationError as cause:
        raise ServiceFileError([_sentence(one, data) for one in cause.errors()], source) from cause


def _check_format(data: Any, source: str) -> None:
    if not isinstance(data, dict):
        raise ChooseAnotherFileError(f"{source} holds {_shown(data)}", "a service file is one JSON object")
    if data.get("format") != SERVICE_FORMAT:
        raise ChooseAnotherFileError(
            f"{source}: $.format is {_shown(data.get('format'))}", f"this program reads {SERVICE_FORMAT!r}"
        )


def _shown(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, default=str) if value is not None else "missing"
    return text if len(text) <= 60 else text[:57] + "..."


def _sentence(error: ErrorDetails, data: Any) -> str:
    """Return one complaint: JSON path, value, what is allowed."""
    path, value, here = "$", data, True
    places = list(error["loc"]) + _keys(error.get("ctx", {}).get("key"))
    for number, place in enumerate(places):
        known = isinstance(value, dict) and place in value
        last = number == len(places) - 1
        absent = isinstance(value, dict) and last and (error["type"] in ("missing", "at"))
        if isinstance(place, int) and isinstance(value, list) and place < len(value):
            path, value = f"{path}[{place}]", value[place]
        elif known:
            path, value = f"{path}.{place}", value[place]
        elif absent:
            path, value, here = f"{path}.{place}", None, False
        # Anything else is the name of a union's member: not a place in the file.
    if error["type"] == "missing" or not here:
        allowed = f"; it must be {error['ctx']['allowed']}" if "allowed" in error.get("ctx", {}) else ""
        return f"{path} is missing{allowed}"
    return f"{path} is {'null' if value is None else _shown(value)}; it must be {_allowed(error)}"


def _keys(key: str | None) -> list[str | int]:
    """Return `a[0].b` as its places."""
    places: list[str | int] = []
    for part in (key or "").replace("]", "").split("."):
        name, *index = part.split("[")
        places += [name] if name else []
        places += [int(one) for one in index]
    return places


def _allowed(error: ErrorDetails) -> str:
    """Return in our words what the model would have taken."""
    context = error.get("ctx", {})
    if "allowed" in context:
        return str(context["allowed"])
    plain = {
        "string_type": "text",
        "tuple_type": "a list",
        "model_type": "an object",
        "model_attributes_type": "an object",
        "too_short": f"a list of at least {context.get('min_length')}",
        "too_long": f"a list of at most {context.get('max_length')}",
        "string_too_short": "text that is not empty",
        "string_too_long": f"text of at most {context.get('max_length')} characters",
        "string_pattern_mismatch": "a note name with its octave, such as E4, C#3 or Bb1",
        "literal_error": f"one of {context.get('expected')}",
        "none_required": "null",
        "missing": "given",
    }
    return plain.get(error["type"], error["msg"].lower())


def write_service(service: Service) -> str:
    """Return the service file's text; what was unknown in it is written back as it came."""
    return service.model_dump_json(indent=2, exclude_unset=True) + "\n"


def service_schema(kinds: Kinds) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of the service file, made from the models."""
    schema = service_model(kinds).model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": SERVICE_FORMAT} | schema
