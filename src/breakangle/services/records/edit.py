"""Editing any record by its kind: what may be changed, with the version that was seen."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, get_type_hints

from breakangle.model.errors import CorrectInputError
from breakangle.model.typed_number import number_within, whole_within
from breakangle.model.words.speech import mark, tr
from breakangle.services.strings.shelf import MOST_COUNT, new_words
from breakangle.services.visits.instrument_identity.joining import refuse_joined
from breakangle.services.visits.moves import opened_again
from breakangle.services.visits.used_parts import refuse_use_undone
from breakangle.services.workshop.gauges import check_gauge
from breakangle.services.workshop.prices import currency_digits, exact_amount, exact_quantity, price_kind
from breakangle.storage.records.records import (
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
from breakangle.storage.records.store import (
    Shop,
    Writing,
    one_record,
    records_where,
    restore_record,
    undo_record,
)
from breakangle.storage.schema.errors import EditedMeanwhileError
from breakangle.storage.schema.stamp import Stamp


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
CALLED = {
    "held_count": mark("the count on the shelf"),
    "least_count": mark("the count to order below"),
    "amount": mark("the price"),
    "spread": "the ±",
    "playing_hours_per_week": mark("playing, hours a week"),
}
HOURS_A_WEEK = 168.0
GOES_WITH = (
    "body",
    "strings_changed_at",
    "instrument_id",
)  # what work and corrections write, at a visit and its instrument alike


def form(kind: str) -> type[Edited]:
    """Return the class of records of a kind.

    Raises:
        CorrectInputError: no such kind.
    """
    if kind not in FORMS:
        raise CorrectInputError(
            tr('"{kind}" is no kind of record', kind=kind),
            tr("one of {forms}", forms=", ".join(FORMS)),
            tr("choose one"),
        )
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
    values = {name: _value(shop, kind, name, text) for name, text in typed.items()}
    if isinstance(record, Gauge) and values.keys() & {"quantity", "spread"}:
        check_gauge(values.get("quantity", record.quantity), values.get("spread", record.spread))
    if isinstance(record, Stock) and values.get("words", record.words) != record.words:
        new_words(shop, values["words"])
    if seen_version is not None and seen_version != record.version:
        raise EditedMeanwhileError(tr("this {kind}", kind=kind), record, values, record.changed_by)
    return shop.change(record, stamp, **values)


def undo_edit(shop: Shop, kind: str, key: str, stamp: Stamp) -> Edited:
    """Put back what stood in a record before its last change, and return it.

    Raises:
        CorrectInputError: no such kind, it was never changed, or its last change goes with others elsewhere, as a
            count does with what a visit used.
        NoSuchRecordError: no such record.
    """
    record, before = with_history(shop, kind, key)
    refuse_joined(shop, record)
    if isinstance(record, Visit) and before and record.closed_at is None and before[-1].get("closed_at"):
        raise CorrectInputError(
            tr("the last change of this visit opened it for an amendment"),
            "",
            tr(
                "close it with the amendment, or `breakangle hand-back {number} --leave`",
                number=record.number,
            ),
        )
    if before and any(before[-1][name] != getattr(record, name) for name in GOES_WITH if name in before[-1]):
        given = tr(
            "the last change of this {kind} was no edit: what is stored at a visit goes with it", kind=kind
        )
        raise CorrectInputError(
            given,
            "",
            tr("take back the entry with `breakangle undo`, or correct it with `breakangle instrument`"),
        )
    with shop.writing() as connection:
        if isinstance(record, Stock) and before:
            refuse_use_undone(connection, record, before[-1]["held_count"])
        return _opened(connection, record, undo_record(connection, record, stamp), stamp)


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
        CorrectInputError: no such kind, it is not deleted, was more than 30 days ago, or something else on the shelf
            has its words by now.
        NoSuchRecordError: no such record.
    """
    refuse_joined(shop, shop.get(form(kind), key, deleted=True))
    with shop.writing() as connection:
        gone = one_record(connection, form(kind), key, deleted=True)
        return _opened(connection, gone, restore_record(connection, type(gone), key, stamp), stamp)


def _opened(connection: Writing, before: Edited, now: Edited, stamp: Stamp) -> Edited:
    """Return a record put back as it is `now`: a visit with its instrument put right, nothing twice on the shelf."""
    if isinstance(before, Visit) and isinstance(now, Visit):
        return opened_again(connection, before, now, stamp)
    if isinstance(now, Stock) and len(records_where(connection, Stock, words=now.words)) > 1:
        raise CorrectInputError(
            tr('"{now_words}" is on the shelf already', now_words=now.words),
            "",
            tr("give that one other words first: breakangle change stock"),
        )
    return now


def with_history(shop: Shop, kind: str, key: str) -> tuple[Edited, tuple[dict[str, Any], ...]]:
    """Return a record, deleted or not, and all that stood in it before, oldest first.

    Raises:
        CorrectInputError: no such kind.
        NoSuchRecordError: no such record.
    """
    record = shop.get(form(kind), key, deleted=True)
    return record, shop.earlier(record)


def count_typed(text: str, what: str) -> int:
    """Return the count that `text` says; `what` names it where it cannot be one.

    Raises:
        CorrectInputError: no whole number, or more than can be stored.
    """
    count = whole_within(text, 0, MOST_COUNT)
    if count is None:
        raise CorrectInputError(
            tr('{what} is "{text}"', what=what, text=text.strip()[:60]),
            tr("a whole number from 0 to {most_count}", most_count=MOST_COUNT),
            tr("such as 3"),
        )
    return count


def number_or_none(text: str, what: str) -> float | None:
    """Return the number that `text` says, None where nothing stands there; `what` names it.

    Raises:
        CorrectInputError: no number.
    """
    if not text.strip():
        return None
    number = number_within(text, -LARGEST, LARGEST)
    if number is None:
        raise CorrectInputError(
            tr('{what} is "{text}"', what=what, text=text[:60]), "a number", tr("such as 0.02")
        )
    return number


def _value(shop: Shop, kind: str, name: str, text: str) -> Any:
    """Return what was typed as the value its column holds."""
    if name not in FORMS[kind].names:
        allowed = tr("one of {names}", names=", ".join(FORMS[kind].names))
        remedy = tr("its sizes: breakangle instrument NUMBER") if kind == "instrument" else tr("choose one")
        raise CorrectInputError(
            tr('"{name}" of {kind} cannot be edited', name=name, kind=kind), allowed, remedy
        )
    wanted = get_type_hints(FORMS[kind].record)[name]
    if name == "kind":
        return price_kind(text)
    if wanted is str:
        return _named(kind, text) if name in ("name", "words") else text
    if wanted == str | None:
        return text or None
    what = tr(CALLED.get(name, name.replace("_", " ")))
    if wanted is int:
        return count_typed(text, what)
    if wanted is Decimal and name == "quantity":
        return exact_quantity(text)
    if wanted is Decimal:
        return exact_amount(text, what, currency_digits(shop))
    number = number_or_none(text, what)
    if name == "playing_hours_per_week" and number is not None and not 0.0 <= number <= HOURS_A_WEEK:
        raise CorrectInputError(
            tr('{what} is "{text}"', what=what, text=text[:60]),
            tr("a number from 0 to {hours_a_week:.0f}", hours_a_week=HOURS_A_WEEK),
            tr("such as 7"),
        )
    return number


def _named(kind: str, text: str) -> str:
    if not text.strip():
        raise CorrectInputError(tr("this {kind} has no name", kind=kind), "", tr("give one"))
    return text.strip()
