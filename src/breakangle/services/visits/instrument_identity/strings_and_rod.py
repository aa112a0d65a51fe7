"""What changes on an instrument from visit to visit: its strings, and the turns its rod has left."""

from datetime import UTC, datetime
from typing import Any

from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Writing, records_where

NEVER = datetime.min.replace(tzinfo=UTC)


def newest_moment(connection: Writing, instrument_id: str) -> datetime:
    """Return when an instrument came in last; the beginning of time where it never did."""
    visits = records_where(connection, Visit, instrument_id=instrument_id)
    return max((visit.opened_at for visit in visits), default=NEVER)


def strung_as(body: dict[str, Any], other: dict[str, Any]) -> dict[str, Any]:
    """Return an instrument's data with the strings and the rod's turns of the `other`, which has as many strings."""
    if len(body["strings"]) != len(other["strings"]):
        return body
    rod = {name: value for name, value in body.get("rod", {}).items() if name != "turns_left"}
    if "turns_left" in other.get("rod", {}):
        rod["turns_left"] = other["rod"]["turns_left"]
    return body | {"strings": other["strings"]} | ({"rod": rod} if rod else {})
