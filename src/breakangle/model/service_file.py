"""The service file: read with JSON path, value and what is allowed in every complaint; written whole."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, Union

from pydantic import BeforeValidator, Discriminator, Field, SerializeAsAny, Tag, ValidationError, create_model
from pydantic_core import PydanticCustomError

from breakangle.model.complaint import complaints
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.json_text import parse_json, shown, what_is_endless, what_is_lost
from breakangle.model.reading import Adjustment, Reading, Target
from breakangle.model.service import SECOND_FORMAT, SERVICE_FORMAT, Hand, Service, Targets
from breakangle.model.words.speech import mark, tr

MOST_ENTRIES = 10_000
_LATER = re.compile(r"breakangle/service/([1-9]\d{0,5})")


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
        more = (
            tr(" (and {problems_count} more)", problems_count=len(problems) - 1) if len(problems) > 1 else ""
        )
        super().__init__(f"{source}: {problems[0]}{more}")


def _union(kinds: Sequence[type[Any]], key: str) -> Any:
    """Return the tagged union of `kinds`, told apart by `key`; an unknown tag names the known ones."""
    names = {kind.model_fields[key].annotation.__args__[0]: kind for kind in kinds}

    def tag(value: Any) -> Any:
        return value.get(key) if isinstance(value, dict) else getattr(value, key, None)

    def known(value: Any) -> Any:
        if not isinstance(value, (dict, *kinds)):
            raise PydanticCustomError("at", tr("must be {allowed}"), {"allowed": tr("an object")})
        if not isinstance(tag(value), str) or tag(value) not in names:
            allowed = tr("one of ") + ", ".join(names)
            raise PydanticCustomError("at", tr("must be {allowed}"), {"allowed": allowed, "key": key})
        return value

    members = tuple(Annotated[kind, Tag(name)] for name, kind in names.items())
    return Annotated[Union[members], Discriminator(tag), BeforeValidator(known)]  # noqa: UP007 (at run time)


@lru_cache(maxsize=4)
def service_model(kinds: Kinds) -> type[Service]:
    """Return the Service class whose lists hold exactly these kinds; the JSON Schema comes from it."""
    reading: Any = _union(kinds.readings, "quantity")
    adjustment: Any = _union(kinds.adjustments, "adjust")
    wanted: Any = SerializeAsAny[_union(kinds.targets, "quantity")]  # type: ignore[misc]
    many = Field(max_length=MOST_ENTRIES)
    few: Any = Annotated[tuple[wanted, ...], many]
    targets: Any = create_model(
        "Targets",
        __base__=Targets,
        __doc__=Targets.__doc__,
        hand=(Hand, "medium"),
        wanted=(few, ()),
    )
    return create_model(
        "Service",
        __base__=Service,
        __doc__=Service.__doc__,
        targets=(targets | None, None),
        readings=(Annotated[tuple[reading, ...], many], ()),
        work=(Annotated[tuple[adjustment, ...], many], ()),
    )


def parse_service(text: str, kinds: Kinds, source: str = mark("service file")) -> Service:
    """Return the service that `text` holds.

    Raises:
        ChooseAnotherFileError: not JSON, not one object, or another format or version.
        ServiceFileError: a value that cannot be right, with JSON path, value and allowed range.
    """
    data = parse_json(text, source)
    _check_format(data, source)
    lost = list(what_is_lost(data))
    if lost:
        raise ServiceFileError(lost, source)
    model = service_model(kinds)
    try:
        service = model.model_validate(data)
    except ValidationError as refused:
        raise ServiceFileError(complaints(refused, model, data), source) from refused
    # The models refuse what is not finite where they know the key; elsewhere it could not be written back.
    endless = list(what_is_endless(data))
    if endless:
        raise ServiceFileError(endless, source)
    return service


def _check_format(data: Any, source: str) -> None:
    if not isinstance(data, dict):
        raise ChooseAnotherFileError(
            tr("{source}: $ is {shown}", source=source, shown=shown(data)),
            tr("a service file is one JSON object"),
        )
    if data.get("format") not in (SERVICE_FORMAT, SECOND_FORMAT):
        given = shown(data["format"]) if "format" in data else tr("missing")
        later = _LATER.fullmatch(str(data.get("format")))
        wanted = tr(
            'it must be "{service_format}" or "{second_format}"',
            service_format=SERVICE_FORMAT,
            second_format=SECOND_FORMAT,
        )
        if later is not None and int(later[1]) > 2:
            wanted += tr(
                "; a later version of this program, one that knows service/{later}, reads it", later=later[1]
            )
        raise ChooseAnotherFileError(tr("{source}: $.format is {given}", source=source, given=given), wanted)


def service_text(service: Service) -> str:
    """Return the service file's text; what was unknown in it is written back as it came."""
    written = service.model_copy(update={"format": service.written_format()})
    return written.model_dump_json(indent=2, exclude_unset=True) + "\n"


def service_schema(kinds: Kinds) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of the service file, made from the models."""
    schema = service_model(kinds).model_json_schema()
    for part in (schema, *schema["$defs"].values()):
        for one in part.get("properties", {}).values():
            one.pop("title", None)
        names = [
            name for name, one in part.get("properties", {}).items() if "const" in one or name == "format"
        ]
        for name in names:
            # A name that tells formats and kinds apart has one value here, and must be given in a file.
            part["properties"][name].pop("default", None)
        if names:
            part["required"] = names + [one for one in part.get("required", []) if one not in names]
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | schema | {"title": SERVICE_FORMAT}
