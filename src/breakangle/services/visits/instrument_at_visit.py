"""The instrument as a visit has it, put right: what it came in as, and what went on at the visit since."""

import json
from datetime import datetime
from math import isclose
from typing import Any

from breakangle.model.instrument import Instrument, String
from breakangle.model.words.speech import tr
from breakangle.services.service_files.service import service_from
from breakangle.services.visits.entries import put_instead
from breakangle.services.visits.parsed_sheets import ADJUSTMENT, service_data, sheet_service
from breakangle.services.visits.reasons import DESCRIBED_WRONGLY
from breakangle.services.visits.visits import instrument_of, later_visit
from breakangle.storage.records.entries import all_entries, hold_visit, standing
from breakangle.storage.records.records import Entry, InstrumentRecord, Visit
from breakangle.storage.records.store import Writing, change_record, one_record
from breakangle.storage.records.strung import NEW_STRINGS
from breakangle.storage.schema.stamp import Stamp

ROD = "rod"  # the adjustment that turns it, as its body names it
SAME_TURNS = (
    1e-3  # nobody turns a rod by so little, and sums of turns differ in their last digits; common practice
)


def open_again(connection: Writing, visit: Visit, closed_at: datetime, stamp: Stamp) -> Visit:
    """Return a visit that was handed back or deleted until now, its instrument put right as it was meanwhile.

    Raises:
        ServiceFileError: what was read or done at the visit cannot be of such an instrument.
    """
    hold_visit(connection, visit.id)
    record = one_record(connection, InstrumentRecord, visit.instrument_id, deleted=True)
    left = sheet_service(visit, standing(all_entries(connection, visit.id))).instrument_now()
    known = instrument_of(record)
    if later_visit(connection, visit):
        known = _before_later_work(known, left, record, closed_at)
    if _with_turns_of(left, known) == left:
        return visit
    return correct_visit(connection, visit, left, known, stamp)


def correct_visit(
    connection: Writing, visit: Visit, before: Instrument, made: Instrument, stamp: Stamp
) -> Visit:
    """Put the instrument right in a visit, and return it: as it came in, and in what went on since.

    A string that was another one at the visit than `before` has it stays, on the scale that is right.

    Raises:
        ServiceFileError: what was read or done at the visit cannot be of such an instrument.
    """
    entries = standing(all_entries(connection, visit.id))
    strung = [one for one in entries if one.kind == ADJUSTMENT and _body(one).get("adjust") == NEW_STRINGS]
    last = {each["string"]: one.id for one in strung for each in _body(one)["strings"]}
    left = sheet_service(visit, entries).instrument_now()
    new = _strings_put_right(left, before, made)
    arrived = Instrument.model_validate(json.loads(visit.body)["instrument"])
    there = {string.string: string for string in arrived.strings}
    came = [
        _on_scale_of(there[string.string], string) if string.string in last else new[string.string]
        for string in made.strings
    ]
    turns = sum(_body(one)["turns"] for one in entries if _body(one).get("adjust") == ROD)
    rod = _rod_as_it_came(arrived, left, before, made, turns)
    body = json.loads(visit.body)
    body["instrument"] = made.model_dump(mode="json", exclude_unset=True) | {
        "strings": [_plain(one) for one in came],
        "rod": rod,
    }
    service_from(
        json.dumps(service_data(visit, []) | body).encode(),
        tr("sheet {visit_number}", visit_number=visit.number),
    )
    changed = change_record(connection, visit, stamp, body=json.dumps(body, ensure_ascii=False))
    for entry in strung:
        told = _body(entry)
        listed = [
            _plain(
                new[each["string"]]
                if last[each["string"]] == entry.id
                else _on_scale_of(String.model_validate(each), new[each["string"]])
            )
            for each in told["strings"]
        ]
        if listed != told["strings"]:
            put_instead(connection, entry, told | {"strings": listed}, DESCRIBED_WRONGLY, stamp)
    sheet_service(changed, standing(all_entries(connection, visit.id)))
    return changed


def _before_later_work(
    known: Instrument, left: Instrument, record: InstrumentRecord, closed_at: datetime
) -> Instrument:
    """Return what is known of an instrument without what later visits did: its strings and rod as they were `left`.

    Where other strings went on since, which of them were only described wrongly before can no longer be told.
    """
    strung = record.strings_changed_at
    then = {string.string: string for string in left.strings}
    strings = known.strings
    if strung is not None and strung > closed_at:
        strings = tuple(_on_scale_of(then[string.string], string) for string in known.strings)
    return _with_turns_of(left, known.model_copy(update={"strings": strings}), whatever=True)


def _with_turns_of(left: Instrument, known: Instrument, whatever: bool = False) -> Instrument:
    """Return `known` with the rod's turns as they were `left`, where they are the same (or whatever they are)."""
    ends = left.rod.turns_left, known.rod.turns_left
    if not whatever and not _same_turns(*ends):
        return known
    return known.model_copy(update={"rod": known.rod.model_copy(update={"turns_left": ends[0]})})


def _same_turns(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return isclose(one, other, abs_tol=SAME_TURNS)


def _strings_put_right(left: Instrument, before: Instrument, made: Instrument) -> dict[int, String]:
    """Return by its number what each string is that the visit `left`."""
    on, known = ({string.string: string for string in each.strings} for each in (left, before))
    return {
        string.string: string
        if on[string.string] == known[string.string]
        else _on_scale_of(on[string.string], string)
        for string in made.strings
    }


def _rod_as_it_came(
    arrived: Instrument, left: Instrument, before: Instrument, made: Instrument, turns: float
) -> dict[str, Any]:
    """Return the rod that is right, with the turns it had left before it was turned by so many at the visit."""
    found = made.rod.turns_left
    known = before.rod.turns_left
    if _same_turns(found, known) or not _same_turns(left.rod.turns_left, known):
        found = arrived.rod.turns_left
    elif found is not None:
        found = round(max(found + turns, 0.0), 4)
    rod = made.rod.model_dump(mode="json", exclude_unset=True, exclude={"turns_left"})
    return rod if found is None else rod | {"turns_left": found}


def _on_scale_of(string: String, made: String) -> String:
    """Return a string that was on before, on the scale that is right."""
    if string.scale_mm == made.scale_mm:
        return string
    return string.model_copy(update={"scale_mm": made.scale_mm})


def _plain(string: String) -> dict[str, Any]:
    return string.model_dump(mode="json", exclude_unset=True, exclude_none=True)


def _body(entry: Entry) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(entry.body or "{}")
    return found
