"""What is known of an instrument put right: a correction of what was told, not work that was done on it."""

import json
from collections.abc import Mapping
from typing import Any

from breakangle.desk.instrument_typed import instrument_typed
from breakangle.desk.service import service_from
from breakangle.desk.shop_readings import ADJUSTMENT, put_instead, service_data
from breakangle.desk.shop_visits import instrument_of
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.shop.entries import all_entries, standing
from breakangle.shop.errors import EditedMeanwhileError
from breakangle.shop.lessons import forget_lesson
from breakangle.shop.records import Entry, InstrumentRecord, Owner, Visit
from breakangle.shop.stamp import Stamp
from breakangle.shop.store import Shop, Writing, add_record, change_record, one_record, records_where
from breakangle.shop.strung import NEW_STRINGS

WAS = "was_"  # before the name of a box: what stood in it
ROD = "rod"  # the adjustment that turns it, as its body names it
REASON = "the instrument was described wrongly"


def changed_boxes(typed: Mapping[str, str]) -> dict[str, str]:
    """Return what a person changed on the form: each box beside what stood in it, as `was_` and its name."""
    return {
        name: text.strip()
        for name, text in typed.items()
        if WAS + name in typed and text.strip() != typed[WAS + name].strip()
    }


def correct_instrument(
    shop: Shop,
    key: str,
    typed: Mapping[str, str],
    stamp: Stamp,
    own_unit: str = "mm",
    seen_version: int | None = None,
) -> InstrumentRecord:
    """Store an instrument as it really is, and return it; visits that are not handed back have it so too.

    Visits that were handed back keep what they had. Strings that went on at an open visit are corrected there,
    in the entry that says so.

    Args:
        shop: where.
        key: the instrument's record.
        typed: the boxes as `instrument_typed` has them, `owner` and `owner_id`; each with `was_` and its name for
            what stood in it: a box that was left alone corrects nothing.
        stamp: who and when.
        own_unit: the unit of a bare length, `mm` or `in`.
        seen_version: of the record that the person had before them.

    Raises:
        CorrectInputError: what cannot be right, or nothing was changed.
        EditedMeanwhileError: somebody has changed it since: `theirs` and `yours` hold both.
        ServiceFileError: what was read or done at an open visit cannot be of such an instrument.
    """
    boxes = changed_boxes(typed)
    chosen = typed.get("owner_id", "").strip()
    if not boxes and not chosen:
        raise CorrectInputError("nothing is changed", "", "change what is wrong")
    with shop.writing() as connection:
        record = one_record(connection, InstrumentRecord, key)
        if seen_version is not None and seen_version != record.version:
            raise EditedMeanwhileError("this instrument", record, boxes, record.changed_by)
        before = instrument_of(record)
        made = instrument_typed({**_other_cores(boxes), **boxes}, own_unit, before)
        owner_id = record.owner_id
        if chosen or "owner" in boxes:
            asked_for_new = "owner_id" in typed  # others of that name were offered, and not chosen
            owner_id = _owner(connection, chosen, boxes.get("owner", ""), asked_for_new, stamp)
        for visit in records_where(connection, Visit, instrument_id=key):
            if visit.handed_back_at is None and made != before:
                _correct_visit(connection, visit, before, made, stamp)
        forget_lesson(connection, key)
        now = one_record(connection, InstrumentRecord, key)  # correcting an entry may have changed it
        return change_record(connection, now, stamp, name=made.name, owner_id=owner_id, body=_json(made))


def _other_cores(boxes: Mapping[str, str]) -> dict[str, str]:
    """Return an empty core for each string of another gauge or make: the core it was told with is not its own."""
    names = [name.partition("_") for name in boxes]
    return {f"core_{number}": "" for name, _, number in names if name in ("gauge", "make")}


def _owner(connection: Writing, chosen: str, name: str, new: bool, stamp: Stamp) -> str | None:
    """Return the owner chosen from those found, else the one of this very name, else a new one; None: the shop's."""
    if chosen:
        return one_record(connection, Owner, chosen).id
    if not name:
        return None
    called = () if new else records_where(connection, Owner, name=name)
    if len(called) > 1:
        given = f"{len(called)} owners are called {name}"
        raise CorrectInputError(given, "", "choose one of those that are found while you type")
    if called:
        return called[0].id
    return add_record(connection, Owner, stamp, name=name, contact="", notes="").id


def _correct_visit(
    connection: Writing, visit: Visit, before: Instrument, made: Instrument, stamp: Stamp
) -> None:
    """Put the instrument right in a visit: as it came in, and in what went on since."""
    entries = standing(all_entries(connection, visit.id))
    strung = [one for one in entries if one.kind == ADJUSTMENT and _body(one).get("adjust") == NEW_STRINGS]
    last = {each["string"]: one.id for one in strung for each in _body(one)["strings"]}
    body = json.loads(visit.body)
    arrived = Instrument.model_validate(body["instrument"])
    there = {one.string: one for one in arrived.strings}
    came = [
        _on_scale_of(there[one.string], one) if one.string in last else _plain(one) for one in made.strings
    ]
    turns = sum(_body(one)["turns"] for one in entries if _body(one).get("adjust") == ROD)
    rod = _rod_as_it_came(arrived, before, made, turns)
    body["instrument"] = json.loads(_json(made)) | {"strings": came, "rod": rod}
    service_from(json.dumps(service_data(visit, []) | body).encode(), f"sheet {visit.number}")
    changed = change_record(connection, visit, stamp, body=json.dumps(body, ensure_ascii=False))
    new = {one.string: one for one in made.strings}
    for entry in strung:
        told = _body(entry)
        listed = [
            _plain(new[each["string"]])
            if last[each["string"]] == entry.id
            else _on_scale_of(String.model_validate(each), new[each["string"]])
            for each in told["strings"]
        ]
        if listed != told["strings"]:
            put_instead(connection, entry, told | {"strings": listed}, REASON, stamp)
    after = standing(all_entries(connection, visit.id))
    service_from(json.dumps(service_data(changed, after)).encode(), f"sheet {visit.number}")


def _rod_as_it_came(
    arrived: Instrument, before: Instrument, made: Instrument, turns: float
) -> dict[str, Any]:
    """Return the rod that is right, with the turns it had left before it was turned by so many at the visit."""
    left = made.rod.turns_left
    if left == before.rod.turns_left:
        left = arrived.rod.turns_left
    elif left is not None:
        left = round(max(left + turns, 0.0), 4)
    rod = made.rod.model_dump(mode="json", exclude_unset=True, exclude={"turns_left"})
    return rod if left is None else rod | {"turns_left": left}


def _on_scale_of(string: String, made: String) -> dict[str, Any]:
    """Return a string that was on before, on the scale that is right."""
    found = _plain(string)
    found.pop("scale_mm", None)
    return found if made.scale_mm is None else found | {"scale_mm": made.scale_mm}


def _plain(string: String) -> dict[str, Any]:
    return string.model_dump(mode="json", exclude_unset=True, exclude_none=True)


def _body(entry: Entry) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(entry.body or "{}")
    return found


def _json(instrument: Instrument) -> str:
    return instrument.model_dump_json(exclude_unset=True)
