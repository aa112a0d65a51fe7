"""Writes that a device sends again because it heard no answer: each is stored once, and answered as before."""

from datetime import datetime, timedelta

from sqlalchemy import Connection, delete, select, update
from sqlalchemy.dialects import postgresql, sqlite

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.storage.records.store import storable
from breakangle.storage.schema.tables import ANSWERED

KEPT = timedelta(days=60)
MOST_SIGNS = 200


def claim_key(connection: Connection, key: str, at: datetime) -> str | None:
    """Return what this key was answered with, or None: then it is this transaction's to answer.

    Another transaction with the same key waits here until this one ends; if this one fails, the key is free again.

    Raises:
        CorrectInputError: an empty key, or one longer than 200 signs.
    """
    if not 0 < len(key) <= MOST_SIGNS:
        raise CorrectInputError(
            tr("a key of {key_count} signs", key_count=len(key)),
            tr("1 to {most_signs} signs", most_signs=MOST_SIGNS),
            tr("make it anew"),
        )
    storable({"key": key})
    put = sqlite.insert if connection.dialect.name == "sqlite" else postgresql.insert
    claimed = (
        put(ANSWERED).values(key=key, at=at, answer="").on_conflict_do_nothing().returning(ANSWERED.c.key)
    )
    if connection.execute(claimed).first() is not None:
        return None
    return str(connection.execute(select(ANSWERED.c.answer).where(ANSWERED.c.key == key)).scalar_one())


def answer_key(connection: Connection, key: str, answer: str) -> None:
    """Remember what a claimed key was answered with."""
    connection.execute(update(ANSWERED).where(ANSWERED.c.key == key).values(answer=answer))


def any_old_answer(connection: Connection, now: datetime) -> bool:
    """Return whether there are keys answered more than 60 days ago."""
    return (
        connection.execute(select(ANSWERED.c.key).where(ANSWERED.c.at < now - KEPT).limit(1)).first()
        is not None
    )


def forget_answers(connection: Connection, now: datetime) -> int:
    """Let go of the keys answered more than 60 days ago, and return how many."""
    return connection.execute(delete(ANSWERED).where(ANSWERED.c.at < now - KEPT)).rowcount
