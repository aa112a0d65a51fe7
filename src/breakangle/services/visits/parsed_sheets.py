"""A visit's sheet as a service: put together from its entries, and parsed once for as long as it says the same."""

import json
import threading
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from typing import Any

from breakangle.model.errors import BreakangleError
from breakangle.model.json_text import shown
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.services.service_files.service import service_from
from breakangle.storage.records.records import Entry, Visit

READING, ADJUSTMENT = "reading", "adjustment"
LIST_OF = {READING: "readings", ADJUSTMENT: "work"}
MOST_PARSED = 64  # some hundred kilobytes each
_PARSED: OrderedDict[bytes, Service] = (
    OrderedDict()
)  # by the text they were parsed from, the latest used last
_LOCK = threading.Lock()


def service_data(visit: Visit, entries: Iterable[Entry]) -> dict[str, Any]:
    """Return the visit with its standing entries as a service file's data."""
    data: dict[str, Any] = json.loads(visit.body) | {"readings": [], "work": []}
    for entry in entries:
        _append(data, entry.kind, json.loads(entry.body or "null"))
    return data


def sheet_service(visit: Visit, entries: Iterable[Entry]) -> Service:
    """Return the visit with its standing entries as a service.

    Raises:
        ServiceFileError: they make none, as after a change of the instrument that they do not fit.
    """
    content = json.dumps(service_data(visit, entries)).encode()
    service = _known(content)
    if service is None:
        service = service_from(content, tr("sheet {visit_number}", visit_number=visit.number))
        _remember(content, service)
    return service


def checked_body(
    visit: Visit, before: Iterable[Entry], kind: str, given: Reading | Adjustment | Mapping[str, Any]
) -> str:
    """Return a reading or adjustment as JSON to store, checked where it stands: after the entries `before`.

    The sheet that it makes is remembered, so that what is asked of it next does not parse it again.

    Raises:
        ServiceFileError: a value that cannot be right, or a place that this instrument does not have.
    """
    plain = given if isinstance(given, Mapping) else given.model_dump(mode="json", exclude_unset=True)
    data = service_data(visit, before)
    own = {key: value for key, value in plain.items() if kind != READING or key != "after"}
    _append(data, kind, own)
    source = shown(dict(plain))
    try:
        service = service_from(json.dumps(data).encode(), source)
    except BreakangleError:  # said of this one alone; the others were checked when they were taken
        data["readings"] = data["readings"][-1:] if kind == READING else []
        service = service_from(json.dumps(data).encode(), source)
        return _stored_text(service, kind)
    body = _stored_text(service, kind)
    data[LIST_OF[kind]].pop()
    _append(data, kind, json.loads(body))
    _remember(json.dumps(data).encode(), service)
    return body


def _append(data: dict[str, Any], kind: str, body: dict[str, Any]) -> None:
    """Append a reading or adjustment to a service file's data; a reading says after how much of the work it was."""
    after = {"after": len(data["work"])} if kind == READING and data["work"] else {}
    data[LIST_OF[kind]].append(body | after)


def _stored_text(service: Service, kind: str) -> str:
    noun = service.readings[-1] if kind == READING else service.work[-1]
    return noun.model_dump_json(exclude_unset=True, exclude={"after"})


def _known(content: bytes) -> Service | None:
    with _LOCK:
        service = _PARSED.get(content)
        if service is not None:
            _PARSED.move_to_end(content)
        return service


def _remember(content: bytes, service: Service) -> None:
    with _LOCK:
        _PARSED[content] = service
        while len(_PARSED) > MOST_PARSED:
            _PARSED.popitem(last=False)
