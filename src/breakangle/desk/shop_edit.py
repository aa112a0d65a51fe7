"""Editing any record by its kind: what may be changed, with the version that was seen."""

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, get_type_hints

from breakangle.model.errors import CorrectInputError
from breakangle.shop.errors import EditedMeanwhileError
from breakangle.shop.records import (
    Attachment,
    Edited,
    Gauge,
    InstrumentRecord,
    Line,
    Owner,
    Price,
    Stock,
    Visit,
)
from breakangle.shop.stamp import Stamp
from breakangle.shop.store import Shop


@dataclass(frozen=True)
class _Form:
    record: type[Edited]
    names: tuple[str, ...]


FORMS = {
    "owner": _Form(Owner, ("name", "contact", "notes")),
    "instrument": _Form(InstrumentRecord, ("owner_id", "notes", "playing_hours_per_week")),
    "visit": _Form(Visit, ("complaint", "notes")),
    "gauge": _Form(Gauge, ("name", "quantity", "spread", "notes")),
    "stock": _Form(Stock, ("words", "held_count", "least_count")),
    "price": _Form(Price, ("kind", "words", "amount")),
    "line": _Form(Line, ("kind", "words", "quantity", "amount")),
    "attachment": _Form(Attachment, ("name",)),
}
LARGEST = 1e12


def form(kind: str) -> type[Edited]:
    """Return the class of records of a kind.

    Raises:
        CorrectInputError: no such kind.
    """
    if kind not in FORMS:
        raise CorrectInputError(f'"{kind}" is no kind of record', f"one of {', '.join(FORMS)}", "choose one")
    return FORMS[kind].record


def edit(
    shop: Shop, kind: str, key: str, typed: dict[str, str], stamp: Stamp, seen_version: int | None
) -> Edited:
    """Store what was typed over a record and return it; `seen_version` is what the person had before them.

    Raises:
        CorrectInputError: a name that cannot be edited, or a value that cannot be right.
        EditedMeanwhileError: it has another version by now: `theirs` and `yours` hold both.
        NoSuchRecordError: no such record.
    """
    record = shop.get(form(kind), key)
    values = {name: _value(kind, name, text) for name, text in typed.items()}
    if seen_version is not None and seen_version != record.version:
        raise EditedMeanwhileError(f"this {kind}", record, values, record.changed_by)
    return shop.change(record, stamp, **values)


def undo_edit(shop: Shop, kind: str, key: str, stamp: Stamp) -> Edited:
    """Put back what stood in a record before its last change, and return it.

    Raises:
        CorrectInputError: no such kind, or it was never changed.
        NoSuchRecordError: no such record.
    """
    return shop.undo(shop.get(form(kind), key, deleted=True), stamp)


def delete(shop: Shop, kind: str, key: str, stamp: Stamp) -> Edited:
    """Delete a record and return it; for 30 days it can be brought back.

    Raises:
        CorrectInputError: no such kind.
        NoSuchRecordError: no such record, or a deleted one.
    """
    return shop.delete(shop.get(form(kind), key), stamp)


def bring_back(shop: Shop, kind: str, key: str, stamp: Stamp) -> Edited:
    """Bring a deleted record back and return it.

    Raises:
        CorrectInputError: no such kind, it is not deleted, or was more than 30 days ago.
        NoSuchRecordError: no such record.
    """
    return shop.restore(form(kind), key, stamp)


def with_history(shop: Shop, kind: str, key: str) -> tuple[Edited, tuple[dict[str, Any], ...]]:
    """Return a record, deleted or not, and all that stood in it before, oldest first.

    Raises:
        CorrectInputError: no such kind.
        NoSuchRecordError: no such record.
    """
    record = shop.get(form(kind), key, deleted=True)
    return record, shop.earlier(record)


def _value(kind: str, name: str, text: str) -> Any:
    """Return what was typed as the value its column holds."""
    if name not in FORMS[kind].names:
        allowed = f"one of {', '.join(FORMS[kind].names)}"
        raise CorrectInputError(f'"{name}" of {kind} cannot be edited', allowed, "choose one")
    wanted = get_type_hints(FORMS[kind].record)[name]
    if wanted is str:
        return text
    if wanted == str | None:
        return text or None
    if not text and wanted == float | None:
        return None
    try:
        number = Decimal(text.replace(",", "."))
        if not number.is_finite() or abs(number) > LARGEST or (wanted is int and number != int(number)):
            raise InvalidOperation
    except InvalidOperation as cause:
        what = "a whole number" if wanted is int else "a number"
        raise CorrectInputError(f'{name} is "{text}"', what, "such as 2") from cause
    return number if wanted is Decimal else int(number) if wanted is int else float(number)
