"""JSON text to plain data, strictly: nothing lost, nothing endless, and a JSON path for whatever is wrong."""

import json
import math
import re
from collections.abc import Iterator
from typing import Any

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.typed_number import with_point
from breakangle.model.words.speech import mark, tr

DEEPEST = 32
LONGEST_NUMBER = 400
_PLAIN_KEY = re.compile(r"^[A-Za-z_][A-Za-z0-9_-]{0,39}$")
_COMMA_NUMBER = re.compile(r":\s*(-?\d+,\d+)\s*(?:[,}\]]|$)")
_SURROGATE = re.compile("[\ud800-\udfff]")


class _Doubled(dict[str, Any]):
    """An object in which a key stands twice; `twice` is that key."""

    twice = ""


# What Python says of text that is not JSON, so that it is in the catalogue.
JSON_TROUBLES = (
    mark("expecting value"),
    mark("expecting property name enclosed in double quotes"),
    mark("illegal trailing comma before end of object"),
    mark("illegal trailing comma before end of array"),
    mark("expecting ':' delimiter"),
    mark("expecting ',' delimiter"),
    mark("extra data"),
    mark("unterminated string"),
    mark("invalid control character"),
    mark("invalid \\escape"),
    mark("invalid \\uxxxx escape"),
)


def json_trouble(cause: json.JSONDecodeError) -> str:
    """Return in words why a text is not JSON; where that is, Python would begin to say, and the sentence goes on to."""
    return tr(cause.msg.lower().removesuffix(" at").removesuffix(" starting"))


def step(path: str, place: str | int) -> str:
    """Return the JSON path one `place` (a key or an index) below `path`, always on one line."""
    if isinstance(place, int):
        return f"{path}[{place}]"
    if _PLAIN_KEY.match(place):
        return f"{path}.{place}"
    return f"{path}[{shown(place)}]"


def shown(value: Any) -> str:
    """Return `value` as it stands in the file, on one line, cut to sixty characters."""
    text = json.dumps(_SURROGATE.sub("�", value) if isinstance(value, str) else value, ensure_ascii=False)
    text = "".join(sign if sign.isprintable() else "�" for sign in text)
    return text if len(text) <= 60 else text[:57] + "..."


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    seen: set[str] = set()
    doubled = _Doubled(found)
    doubled.twice = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
    return doubled


def _whole(digits: str) -> int | float:
    """Return the whole number; one longer than anything has is endless, and refused where it stands."""
    return int(digits) if len(digits) <= LONGEST_NUMBER else math.inf


def parse_json(text: str, source: str) -> Any:
    """Return the data that `text` holds.

    Raises:
        ChooseAnotherFileError: not JSON, or nested too deep to be meant.
    """
    try:
        data = json.loads(text, object_pairs_hook=_object, parse_int=_whole)
    except json.JSONDecodeError as cause:
        what = json_trouble(cause) if text.strip() else tr("it is empty")
        place = (
            tr(" at line {lineno}, column {colno}", lineno=cause.lineno, colno=cause.colno)
            if text.strip()
            else ""
        )
        comma = _decimal_comma(text, cause.pos)
        if comma:
            given = tr(
                "{source} has a decimal comma at line {lineno}: {comma}",
                source=source,
                lineno=cause.lineno,
                comma=comma,
            )
            raise ChooseAnotherFileError(
                given, tr("a file takes a decimal point"), tr("write {comma}", comma=with_point(comma))
            ) from cause
        raise ChooseAnotherFileError(
            tr("{source} is not JSON: {what}{place}", source=source, what=what, place=place),
            "",
            tr("name another file"),
        ) from cause
    except RecursionError as cause:
        raise ChooseAnotherFileError(
            tr("{source} is nested too deep", source=source), tr("at most {deepest} levels", deepest=DEEPEST)
        ) from cause
    if isinstance(data, dict | list) and _depth_over(data):
        raise ChooseAnotherFileError(
            tr("{source} is nested too deep", source=source), tr("at most {deepest} levels", deepest=DEEPEST)
        )
    return data


def _decimal_comma(text: str, position: int) -> str:
    """Return the number with a decimal comma that reading broke off after; empty where there is none."""
    line = text[text.rfind("\n", 0, position) + 1 : position + 20].split("\n")[0]
    found = _COMMA_NUMBER.search(line)
    return found[1] if found else ""


def _depth_over(data: Any) -> bool:
    level = [data]
    for _ in range(DEEPEST):
        level = [inner for one in level for inner in _inside(one)]
    return bool(level)


def _inside(value: Any) -> list[Any]:
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return [one for one in inner if isinstance(one, dict | list)]


def walk(value: Any, path: str = "$") -> Iterator[tuple[str, Any]]:
    """Yield (JSON path, value) of `value` and everything in it."""
    yield path, value
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from walk(inner, step(path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from walk(inner, f"{path}[{index}]")


def what_is_lost(data: Any) -> Iterator[str]:
    """Yield a complaint for whatever could not be kept: a key given twice, half a character."""
    for path, value in walk(data):
        if isinstance(value, _Doubled):
            yield tr(
                "{step} stands twice in one object; each key may stand once", step=step(path, value.twice)
            )
        keys = value if isinstance(value, dict) else ()
        if (isinstance(value, str) and _SURROGATE.search(value)) or any(
            _SURROGATE.search(key) for key in keys
        ):
            yield tr(
                "{path} is {shown}; it must be whole characters (a lone surrogate is half of one)",
                path=path,
                shown=shown(value),
            )


def what_is_endless(data: Any) -> Iterator[str]:
    """Yield a complaint for every number that is not finite, which JSON cannot hold."""
    for path, value in walk(data):
        if isinstance(value, float) and not math.isfinite(value):
            yield tr("{path} is {shown}; it must be a finite number", path=path, shown=shown(value))
