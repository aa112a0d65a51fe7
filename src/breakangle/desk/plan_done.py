"""A step of the plan done at the bench, as planned or by another amount, stored once."""

import json
import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from breakangle.desk.plan_sheet import amount_of
from breakangle.desk.shop_readings import (
    ADJUSTMENT,
    put_back,
    put_entry,
    sent_before,
    service_of,
    standing_held,
)
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.measure import parse_length
from breakangle.model.reading import Adjustment
from breakangle.planning.registry import adjustment_kinds
from breakangle.shop.entries import entries_of, standing
from breakangle.shop.errors import EditedMeanwhileError
from breakangle.shop.records import Entry, Visit
from breakangle.shop.stamp import Stamp
from breakangle.shop.store import Shop

OTHER_WAY = ("-", "−")
_TURNS = re.compile(
    r"(?P<whole>\d+(?:[.,]\d+)?)?\s*(?:(?P<top>\d+)\s*[/⁄]\s*(?P<bottom>[1-9]\d*))?"
    r"\s*(?P<word>turns?|t)?\.?",
    re.IGNORECASE,
)
SCREWS = {"saddle-height": "height_mm_per_turn", "saddle-position": "position_mm_per_turn"}


def step_given(text: str) -> Adjustment:
    """Return the adjustment that a page was given to do, from its JSON.

    Raises:
        CorrectInputError: no adjustment.
    """
    try:
        data = json.loads(text)
        found: Adjustment = adjustment_kinds()[data["adjust"]].model.model_validate(data)
    except (ValueError, TypeError, KeyError) as cause:
        raise CorrectInputError("this step is none", "", "look at the plan as it is now") from cause
    return found


def step_done(
    shop: Shop,
    visit: Visit,
    adjustment: Adjustment,
    stamp: Stamp,
    *,
    done_count: int,
    amount: str = "",
    own_unit: str = "mm",
    sent_key: str | None = None,
) -> Entry:
    """Store that a step was made, by its own amount or another, and return the entry.

    Args:
        shop: the shop.
        visit: the visit.
        adjustment: the step as the person had it before them; what was done is stored, whatever the plan says by now.
        stamp: who, and when.
        done_count: how many adjustments the person had before them as done.
        amount: another amount than planned, as typed: the same way as planned, with a minus the other way.
        own_unit: the unit of a bare length, `mm` or `in`.
        sent_key: the sender's own name for this, so that it is not stored twice.

    Raises:
        CorrectInputError: an amount that is none.
        ServiceFileError: an adjustment that this instrument does not have.
        EditedMeanwhileError: other work was done meanwhile: `theirs` is the last of it, `yours` what was not stored.
    """
    if amount.strip():
        instrument = service_of(shop, visit.id).instrument_now()
        adjustment = with_amount(adjustment, amount, instrument, own_unit)
    with shop.writing() as connection:
        sent = sent_before(connection, sent_key, stamp)
        if sent is not None:
            return sent
        work = _work_in(standing_held(connection, visit.id))
        if work and len(work) != done_count:
            raise EditedMeanwhileError("the work on this sheet", work[-1], adjustment, work[-1].taken_by)
        return put_entry(connection, visit.id, ADJUSTMENT, adjustment, stamp, key=sent_key)


def with_amount(adjustment: Adjustment, text: str, instrument: Instrument, own_unit: str) -> Adjustment:
    """Return the adjustment by the amount typed: bare, the same way as planned; with a minus, the other way.

    Raises:
        CorrectInputError: not an amount, or none that this adjuster can be moved by.
    """
    planned, unit = amount_of(adjustment)
    if planned is None:
        raise CorrectInputError("this step has no amount", "", "leave the amount empty")
    typed = text.strip()
    way = -1.0 if typed.startswith(OTHER_WAY) else 1.0
    size = _size(
        (typed[1:] if typed[:1] in ("+", *OTHER_WAY) else typed).strip(),
        adjustment,
        unit,
        instrument,
        own_unit,
    )
    value = way * (size if planned >= 0.0 else -size)
    data: dict[str, Any] = adjustment.model_dump(mode="json", exclude_unset=True) | {unit: round(value, 4)}
    try:
        return type(adjustment).model_validate(data)
    except ValueError as cause:
        raise CorrectInputError(
            f'"{typed[:40]}" is more than this can be moved', "", "type it again"
        ) from cause


def undo_last(shop: Shop, visit: Visit, entry_id: str, stamp: Stamp) -> None:
    """Take back the last adjustment: it was not made after all.

    Raises:
        CorrectInputError: it is not the last one.
        ServiceFileError: what was read later cannot stand without it.
    """
    with shop.writing() as connection:
        work = _work_in(standing_held(connection, visit.id))
        if not work or work[-1].id != entry_id:
            raise CorrectInputError("that is not the last of the work", "", "look at the sheet as it is now")
        put_back(connection, work[-1], stamp)


def last_work(shop: Shop, visit: Visit) -> Entry | None:
    """Return the entry of the last adjustment; None if nothing was done."""
    work = _work_in(standing(entries_of(shop, visit.id)))
    return work[-1] if work else None


def _work_in(entries: Sequence[Entry]) -> list[Entry]:
    return [one for one in entries if one.kind == ADJUSTMENT]


def _size(text: str, adjustment: Adjustment, unit: str, instrument: Instrument, own_unit: str) -> float:
    """Return the amount typed, without its way: turns, or a length that may be typed as turns of its screw."""
    turns = _TURNS.fullmatch(text)
    counted = turns is not None and (turns["whole"] or turns["top"]) is not None
    if unit == "mm" and not (counted and turns is not None and turns["word"]):
        return abs(parse_length(text, own_unit).mm)
    if turns is None or not counted:
        raise CorrectInputError(f'"{text[:40]}" is no amount', "write it like 1/8, 0.25 or 1 1/4 turn")
    number = float((turns["whole"] or "0").replace(",", "."))
    if turns["top"]:
        number += float(Fraction(int(turns["top"]), int(turns["bottom"])))
    if unit != "mm":
        return number
    per_turn = getattr(instrument.bridge, SCREWS.get(adjustment.adjust, ""), None)
    if per_turn is None:
        raise CorrectInputError(f'"{text[:40]}": no screw is known here', "", "type the amount in mm")
    return number * float(per_turn)
