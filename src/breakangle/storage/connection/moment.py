"""One moment for all that is read to answer one request: one connection, one transaction, one state of the records.

A page asks for its records in a score of small questions. Each by itself begins and ends a transaction, which takes
longer than the question; and together they may show two moments, one before a change and one after it.
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from typing import Any

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError

_HELD: ContextVar["Moment | None"] = ContextVar("moment", default=None)


class Moment:
    """A connection that is opened by the first question, and shared by those after it until something is written."""

    def __init__(self) -> None:
        """Begin without one."""
        self._engine: Engine | None = None
        self._connection: Connection | None = None
        self._users, self._over = 0, False
        self._kept: dict[Any, Any] = {}
        self.carried: dict[Any, Any] = {}

    @property
    def is_open(self) -> bool:
        """Return whether there is a connection to let go of."""
        return self._connection is not None

    @property
    def waits(self) -> bool:
        """Return whether ending it asks a server, so that whoever may not wait lets a thread do it."""
        return self._engine is not None and self._engine.dialect.name != "sqlite"

    def takes(self, engine: Engine) -> bool:
        """Return whether a question to these records can be of this moment."""
        return self._engine in (None, engine) and not self._over

    @contextmanager
    def using(self, engine: Engine) -> Iterator[Connection]:
        """Give the shared connection, opened if need be."""
        if self._connection is None:
            connection = engine.connect()
            if engine.dialect.name != "sqlite":  # where a file's transaction is one moment anyway
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            try:
                connection.begin()
            except BaseException:
                connection.close()
                raise
            self._engine, self._connection = engine, connection
        self._users += 1
        try:
            yield self._connection
        except DBAPIError:  # a server's transaction is broken by it
            self._over = True
            raise
        finally:
            self._users -= 1
            if self._over:
                self.end()

    def kept(self, connection: Connection) -> dict[Any, Any] | None:
        """Return where answers are kept for as long as the moment lasts; None for another connection's."""
        return self._kept if connection is self._connection and not self._over else None

    def end(self) -> None:
        """Let go of the connection once nobody is using it: what is asked next sees what stands then."""
        self._kept = {}
        self._over = self._users > 0
        if self._over:
            return
        held, self._connection, self._engine = self._connection, None, None
        if held is not None:
            with suppress(DBAPIError):  # a server that has gone: there is nothing more to end
                held.close()


def moment_held() -> Moment | None:
    """Return the moment that this request is in; None where each question is one of its own."""
    return _HELD.get()


@contextmanager
def one_moment() -> Iterator[Moment]:
    """Let everything read inside be of one moment, up to the first thing written and between things written."""
    moment = Moment()
    token = _HELD.set(moment)
    try:
        yield moment
    finally:
        _HELD.reset(token)
        moment.end()


def kept_here(connection: Connection) -> dict[Any, Any]:
    """Return where the answers to a question that is asked again and again are kept: nowhere, if of no moment."""
    moment = _HELD.get()
    found = moment.kept(connection) if moment is not None else None
    return {} if found is None else found


def carried_here() -> dict[Any, Any]:
    """Return what one request knows beyond the end of a moment: who uses it first looks whether it still holds."""
    moment = _HELD.get()
    return {} if moment is None else moment.carried
