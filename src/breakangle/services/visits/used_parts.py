"""Strings and parts that a visit used: taken from the shelf and written to the visit in one transaction."""

from decimal import Decimal
from shlex import quote

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr
from breakangle.services.visits.visits import visit_numbered
from breakangle.services.workshop.prices import currency_digits, exact_amount
from breakangle.storage.records.entries import hold_visit
from breakangle.storage.records.records import Stock, Used, Visit
from breakangle.storage.records.store import (
    Shop,
    Writing,
    add_record,
    change_record,
    hold_record,
    one_record,
    records_where,
)
from breakangle.storage.schema.stamp import Stamp

MOST_COUNT = 10_000


def use_stock(
    shop: Shop, visit: Visit, stock: Stock, count: int, stamp: Stamp, amount: str | None = None
) -> Used:
    """Take `count` from the shelf for the visit and return what is written there; `amount` is for one.

    Two who take at the same moment wait for each other: each is checked against what then lies there.

    Raises:
        CorrectInputError: more than lies there, no whole number from 1, or an amount that is none.
        NoSuchRecordError: the visit or what lies on the shelf is deleted.
    """
    price = _price(shop, amount)
    with shop.writing() as connection:
        return take_stock(connection, visit, stock.id, count, stamp, price)


def take_stock(
    connection: Writing, visit: Visit, stock_id: str, count: int, stamp: Stamp, price: Decimal | None = None
) -> Used:
    """Take from the shelf as `use_stock` does, within a transaction; who takes several, always in the same order."""
    hold_visit(connection, visit.id)
    return _taken(connection, visit, stock_id, _counted(count), price, stamp)


def use_by_words(shop: Shop, number: int, words: str, count: int, stamp: Stamp) -> Used:
    """Take what is called `words` from the shelf for sheet `number`, as `use_stock` does.

    Raises:
        CorrectInputError: nothing of those words, or fewer than are taken.
        NoSuchRecordError: no such sheet.
    """
    found = shop.every(Stock, words=words)
    if not found:
        raise CorrectInputError(
            tr('there is no "{words}" on the shelf', words=words), "", tr("list it: breakangle stock")
        )
    return use_stock(shop, visit_numbered(shop, number), found[0], count, stamp)


def put_back(shop: Shop, used: Used, stamp: Stamp) -> Used:
    """Return the deleted record of what was not used after all; what came from the shelf lies there again.

    Raises:
        EditedMeanwhileError: somebody has changed it since it was seen.
    """
    with shop.writing() as connection:
        gone = change_record(connection, used, stamp, deleted_at=stamp.at)
        if used.stock_id is not None:
            hold_record(connection, Stock, used.stock_id)
            lying = one_record(connection, Stock, used.stock_id, deleted=True)
            change_record(connection, lying, stamp, held_count=lying.held_count + used.count)
    return gone


def put_back_by_words(shop: Shop, number: int, words: str, stamp: Stamp) -> Used:
    """Put back what sheet `number` took last of what is called `words`, as `put_back` does.

    Raises:
        CorrectInputError: it used nothing of those words.
        EditedMeanwhileError: somebody else puts it back at the same moment.
        NoSuchRecordError: no such sheet.
    """
    renamed = {stock.id for stock in shop.every(Stock, words=words)}
    used = used_at(shop, visit_numbered(shop, number).id)
    named = [used_part for used_part in used if used_part.words == words or used_part.stock_id in renamed]
    if not named:
        there = ", ".join(f'"{used_part.words}"' for used_part in used) or tr("nothing")
        raise CorrectInputError(
            tr('sheet {number} used no "{words}"', number=number, words=words),
            tr("it used {there}", there=there),
            "",
        )
    return put_back(shop, named[-1], stamp)


def refuse_use_undone(connection: Writing, stock: Stock, held_before: int) -> None:
    """Refuse to put back a count that a visit has changed: the visit would go on to say what it used.

    Raises:
        CorrectInputError: the last change of what lies there was a visit's.
    """
    taken = held_before - stock.held_count
    for used_part in records_where(connection, Used, deleted=True, stock_id=stock.id):
        took = taken == used_part.count and used_part.created_at == stock.changed_at
        if not took and not (taken == -used_part.count and used_part.deleted_at == stock.changed_at):
            continue
        sheet = one_record(connection, Visit, used_part.visit_id, deleted=True).number
        again = tr(
            "breakangle stock --put-back {words} --for {sheet}", words=quote(used_part.words), sheet=sheet
        )
        by_visit = mark('the last change of "{words}" was not an edit: sheet {sheet} took {count} of it')
        if not took:
            by_visit = mark(
                'the last change of "{words}" was not an edit: sheet {sheet} put {count} of it back'
            )
        raise CorrectInputError(
            tr(by_visit, words=stock.words, sheet=sheet, count=used_part.count),
            tr("{held_count} are there", held_count=stock.held_count),
            (tr("what it did not use: {again}; ", again=again) if took else "")
            + tr("what was counted wrongly: breakangle change stock {id} held_count=COUNT", id=stock.id),
        )


def used_at(shop: Shop, visit_id: str) -> tuple[Used, ...]:
    """Return what the visit used, in the order it was written."""
    return shop.every(Used, visit_id=visit_id)


def _taken(
    connection: Writing, visit: Visit, stock_id: str, count: int, price: Decimal | None, stamp: Stamp
) -> Used:
    hold_record(connection, Stock, stock_id)
    lying = one_record(connection, Stock, stock_id)
    if count > lying.held_count:
        raise CorrectInputError(
            tr("{count} of {lying_words} are taken", count=count, lying_words=lying.words),
            tr("{held_count} are there", held_count=lying.held_count),
            tr("order more"),
        )
    change_record(connection, lying, stamp, held_count=lying.held_count - count)
    return add_record(
        connection,
        Used,
        stamp,
        visit_id=visit.id,
        stock_id=lying.id,
        words=lying.words,
        count=count,
        amount=price,
    )


def _counted(count: int) -> int:
    if not 1 <= count <= MOST_COUNT:
        raise CorrectInputError(
            tr("{count} pieces", count=count),
            tr("a whole number from 1 to {most_count}", most_count=MOST_COUNT),
            "",
        )
    return count


def _price(shop: Shop, amount: str | None) -> Decimal | None:
    return None if amount is None else exact_amount(amount, tr("the price"), currency_digits(shop))
