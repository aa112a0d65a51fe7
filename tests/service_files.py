"""Service files for the tests: one that uses every key there is, and ways to spoil it."""

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from breakangle.model.json_text import step

Data = dict[str, Any]
RAW = "@raw@"


def full_service() -> Data:
    """Return a valid file in which every key of every model stands at least once with a value."""
    found: Data = json.loads((Path(__file__).parent / "full_service.json").read_text(encoding="utf-8"))
    return found


def places(
    data: Any, path: str = "$", way: tuple[Any, ...] = ()
) -> Iterator[tuple[str, tuple[Any, ...], Any]]:
    """Yield (JSON path, way to it, value) of everything in `data`, outermost first."""
    yield path, way, data
    inner = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for place, value in inner:
        yield from places(value, step(path, place), (*way, place))


def changed(data: Data, way: tuple[Any, ...], value: Any) -> Data:
    """Return a copy of `data` with `value` at `way`."""
    spoiled = copy.deepcopy(data)
    at: Any = spoiled
    for place in way[:-1]:
        at = at[place]
    at[way[-1]] = value
    return spoiled


def without(data: Data, way: tuple[Any, ...]) -> Data:
    """Return a copy of `data` without the key or entry at `way`."""
    spoiled = copy.deepcopy(data)
    at: Any = spoiled
    for place in way[:-1]:
        at = at[place]
    del at[way[-1]]
    return spoiled


def text_with(data: Data, way: tuple[Any, ...], raw: str) -> str:
    """Return the JSON text of `data` with the very text `raw` at `way` (so also what JSON does not allow)."""
    return json.dumps(changed(data, way, RAW)).replace(json.dumps(RAW), raw)
