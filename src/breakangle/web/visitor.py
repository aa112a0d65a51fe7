"""Who asks, and how they like to see things: kept by the browser, read once a request."""

import json
from dataclasses import asdict, dataclass, fields, replace
from typing import Any
from urllib.parse import quote, unquote

from starlette.datastructures import Headers
from starlette.requests import HTTPConnection

from breakangle.model.words.speech import spoken_language
from breakangle.services.readings.ways import WAYS, Ways

VIEW_COOKIE = "bench-view"
ROLES = ("owner", "bench", "read-only")
CHOICES: dict[str, tuple[str, ...]] = {
    "units": ("mm", "inch"),
    "theme": ("system", "light", "dark"),
    "spoken": ("off", "on"),
    "type": ("usual", "large"),
    **WAYS,
}
LONGEST = 60


@dataclass(frozen=True)
class View(Ways):
    """What this bench has chosen, its ways of reading among it; remembered by its browser, each bench its own."""

    who: str = ""
    units: str = "mm"
    theme: str = "system"
    type: str = "usual"
    gauge: str = ""
    spoken: str = "off"

    @property
    def own_unit(self) -> str:
        """Return the unit of a length that is typed without one."""
        return "in" if self.units == "inch" else "mm"

    def changed(self, **given: str) -> "View":
        """Return the view with what was chosen; what is no choice is left as it was."""
        known = {one.name for one in fields(self)}
        fitting = {
            name: value[:LONGEST]
            for name, value in given.items()
            if name in known and value in CHOICES.get(name, (value,))
        }
        return replace(self, **fitting)

    def to_cookie(self) -> str:
        """Return the view as the text of a cookie."""
        return quote(json.dumps(asdict(self), ensure_ascii=False))


def view_of(connection: HTTPConnection) -> View:
    """Return what the browser remembers; whatever cannot be read is as on the first day."""
    try:
        kept: Any = json.loads(unquote(connection.cookies.get(VIEW_COOKIE, "")))
        pairs = {name: value for name, value in kept.items() if isinstance(value, str)}
    except (ValueError, AttributeError):
        pairs = {}
    return View().changed(**pairs)


@dataclass(frozen=True)
class Visitor:
    """One request's person: name (empty: none given), role, locale, language spoken, and its view.

    The locale is the first that the browser asks for and that number and date forms exist for; the language is its own
    where there is a catalogue of it, else English.
    """

    who: str
    role: str
    locale: str
    language: str
    view: View


def visitor_of(connection: HTTPConnection) -> Visitor:
    """Return who asks; the guard has put the device and its role on the connection before."""
    view, state = view_of(connection), connection.scope.get("state", {})
    locale = locale_of(connection.headers)
    # A device that is one person's writes in that name, whatever its browser was told.
    who = str(state.get("person") or "") or view.who.strip() or str(state.get("device_name") or "")
    return Visitor(who, str(state.get("role", ROLES[-1])), locale, spoken_language(), view)


def locale_of(headers: Headers) -> str:
    """Return the first language that the browser asks for and that number and date forms exist for."""
    from babel import Locale, UnknownLocaleError

    for one in headers.get("accept-language", "").split(","):
        tag = one.split(";")[0].strip()
        if not tag or tag == "*" or len(tag) > LONGEST:
            continue
        try:
            return str(Locale.parse(tag, sep="-"))
        except (UnknownLocaleError, ValueError):
            continue
    return "en"
