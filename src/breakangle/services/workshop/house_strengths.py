"""The shop's own strengths of play: what instruments of a kind begin with whose player was not heard."""

import json
from typing import Any

from breakangle.model.playing import PlayedStrengths
from breakangle.storage.records.records import Setting
from breakangle.storage.records.store import Shop, Writing, add_record, change_record, one_record
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.storage.schema.stamp import Stamp

NAME = "strengths:"


def house_strengths(shop: Shop, kind: str) -> PlayedStrengths | None:
    """Return how the shop plays instruments of a kind; None where it was never heard."""
    try:
        return PlayedStrengths.model_validate_json(shop.get(Setting, NAME + kind).value)
    except NoSuchRecordError:
        return None


def keep_house_strengths(connection: Writing, kind: str, found: PlayedStrengths, stamp: Stamp) -> None:
    """Keep how the shop plays instruments of a kind, for those that come in from now on, within a transaction."""
    value = found.model_dump_json(exclude_unset=True)
    try:
        seen = one_record(connection, Setting, NAME + kind)
    except NoSuchRecordError:
        add_record(connection, Setting, stamp, NAME + kind, value=value)
    else:
        change_record(connection, seen, stamp, value=value)


def with_house_strengths(shop: Shop, instrument: dict[str, Any]) -> dict[str, Any]:
    """Return an instrument's data, played as the shop plays where nobody else was heard on it."""
    found = None if instrument.get("playing") else house_strengths(shop, instrument["kind"])
    return instrument if found is None else instrument | {"playing": json.loads(found.model_dump_json())}
