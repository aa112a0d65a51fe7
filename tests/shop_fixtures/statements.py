"""What a service asks of the database: its statements, and what SQLite reads from end to end for them."""

from collections.abc import Callable
from typing import TypeVar

from sqlalchemy import event

from breakangle.storage.records.store import Shop

Result = TypeVar("Result")
Statements = list[tuple[str, tuple[object, ...]]]


def sent_by(shop: Shop, todo: Callable[[], Result]) -> tuple[Result, Statements]:
    """Return what `todo` gives, and every statement that it sent to the database with its values."""
    sent: Statements = []

    def keep(connection, cursor, statement, parameters, context, many) -> None:  # type: ignore[no-untyped-def]
        del connection, cursor, context, many
        sent.append((statement, parameters))

    event.listen(shop.engine, "before_cursor_execute", keep)
    try:
        return todo(), sent
    finally:
        event.remove(shop.engine, "before_cursor_execute", keep)


def scans(shop: Shop, sent: Statements) -> set[str]:
    """Return what SQLite reads from end to end for these statements, by its own account; empty on another engine."""
    if shop.engine.dialect.name != "sqlite":
        return set()
    with shop.engine.connect() as connection:
        steps = [
            row[3]
            for statement, parameters in sent
            if statement.startswith("SELECT")
            for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)
        ]
    assert any(step.startswith("SEARCH") for step in steps)
    return {step for step in steps if step.startswith("SCAN")}
