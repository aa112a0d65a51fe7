"""What a database refuses, said as a person can act on it."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr
from breakangle.storage.schema.errors import ShopDamagedError, ShopOutOfReachError

# What the engine says, and what a person is told: the cause, then what to do.
SENTENCES = (
    ("no space", "full"),
    ("disk is full", "full"),
    ("locked", "busy"),
    ("deadlock", "busy"),
    ("lock timeout", "busy"),
    ("readonly", "readonly"),
    ("read-only", "readonly"),
    ("unable to open", "unreachable"),
    ("disk i/o", "unreachable"),
    ("malformed", "damaged"),
    ("not a database", "damaged"),
    ("invalid page", "damaged"),
    ("no such table", "damaged"),
    ("no such column", "damaged"),
)
MISSING = ("42P01", "42703")  # PostgreSQL's codes of a table and of a column that is not there
SAFE = mark("nothing was stored, and what was stored before is safe")


@contextmanager
def said_plainly() -> Iterator[None]:
    """Turn what a database complains of into one sentence.

    Raises:
        ShopOutOfReachError: full, locked, read-only, or the server has gone.
        ShopDamagedError: a damaged file.
        CorrectInputError: a value that the schema refuses.
    """
    try:
        yield
    except PoolTimeoutError as cause:
        raise ShopOutOfReachError(
            tr("too many ask at once"), tr(SAFE), tr("try again in a moment")
        ) from cause
    except (DBAPIError, sqlite3.Error) as cause:
        said = str(getattr(cause, "orig", cause)).lower()
        kind = next((name for words, name in SENTENCES if words in said), "")
        if "check constraint" in said or "foreign key" in said:
            given = tr("a value does not fit what is stored with it")
            nothing = tr("nothing was stored")
            raise CorrectInputError(given, nothing, tr("correct it and try again")) from cause
        if kind == "damaged" or getattr(getattr(cause, "orig", cause), "sqlstate", None) in MISSING:
            remedy = tr("run `breakangle doctor`, then `breakangle restore`")
            raise ShopDamagedError(tr("the shop's records are damaged"), "", remedy) from cause
        if "unique constraint" in said or "duplicate key" in said:
            given = tr("somebody else stored the same at the same moment")
            raise ShopOutOfReachError(given, tr(SAFE), tr("look at it and try again")) from cause
        told = {
            "full": ShopOutOfReachError(tr("the disk is full"), tr(SAFE), tr("make room, then try again")),
            "busy": ShopOutOfReachError(tr("another program holds the records"), tr(SAFE), tr("try again in a moment")),
            "readonly": ShopOutOfReachError(tr("the shop's folder is read-only"), tr(SAFE), tr("allow writing there")),
            "unreachable": ShopOutOfReachError(
                tr("the shop's file cannot be opened or read"), tr(SAFE), tr("check the disk")),
        }.get(kind)  # fmt: skip
        if told is not None:
            raise told from cause
        if _gone(cause):
            remedy = tr("start it, or check the network, then try again")
            raise ShopOutOfReachError(
                tr("the database server cannot be reached"), tr(SAFE), remedy
            ) from cause
        raise


def _gone(cause: Exception) -> bool:
    """Return whether the server or the way to it is gone, not the statement wrong."""
    if not isinstance(cause, DBAPIError) or isinstance(cause.orig, sqlite3.Error):
        return False
    return cause.connection_invalidated or type(cause.orig).__name__ in ("OperationalError", "AdminShutdown")
