"""Service files in and out, and readings put into a service."""

import json
import os
from collections.abc import Iterable, Mapping
from typing import Any

from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.model.words.speech import tr
from breakangle.services.service_files import example, service, service_written


def read_service(source: str | os.PathLike[str] | bytes | Mapping[str, Any]) -> Service:
    """Return the service in a service file.

    Args:
        source: the path of a service file; or its content, as bytes (JSON in UTF-8) or as data that `json.load` gives.

    Raises:
        ChooseAnotherFileError: missing, unreadable, larger than 8 MB, not JSON, or of another format or version.
        ServiceFileError: values that cannot be right, each with JSON path, value and what is allowed.

    Source: the form is documented in docs/service-file.md, its JSON Schema is printed by `breakangle schema`.
    """
    if isinstance(source, bytes):
        return service.service_from(source, tr("the service file"))
    if isinstance(source, Mapping):
        return service.service_from(json.dumps(source).encode(), tr("the service file"))
    return service.read_service(source)


def write_service(path: str | os.PathLike[str], given: Service) -> None:
    """Write a service to a file, whole or not at all: an old file stands until the new one is complete.

    Args:
        path: where.
        given: the service.

    Raises:
        ChooseAnotherFileError: the place cannot be written.

    Source: the form is documented in docs/service-file.md.
    """
    service_written.write_service(path, given)


def example_service(kind: str | None = None) -> Service:
    """Return a service to try things on.

    Args:
        kind: a family of instruments such as `bass-four`, for one in that family's usual sizes with nothing read yet;
            None for an invented electric guitar with its readings.

    Raises:
        CorrectInputError: a family that the tables do not know; the error names those they do.

    Source: the sizes are those of docs/reference/families.md, each with its source.
    """
    return service.service_from(example.example_text(kind).encode(), tr("the example"))


def add_readings(given: Service, readings: Iterable[Reading | Mapping[str, Any]]) -> Service:
    """Return the service with more readings, each checked as those of a file are; they count for after all work so far.

    Args:
        given: the service; it stays as it is.
        readings: readings, such as those of `Takes.readings`, or data such as
            `{"quantity": "gap", "string": 6, "fret": 12, "held": [1], "mm": 1.85}`.

    Raises:
        ServiceFileError: a reading that cannot be right, or of a string or fret that is not there.

    Source: the kinds of reading are those of docs/reference/readings.md.
    """
    data = json.loads(service_text(given))
    after = {"after": len(given.work)} if given.work else {}
    for one in readings:
        told = (
            one.model_dump(exclude_none=True, exclude_unset=True) if isinstance(one, Reading) else dict(one)
        )
        data.setdefault("readings", []).append({**after, **told})
    return service.service_from(json.dumps(data).encode(), tr("the readings"))
