"""An open shop's connections: what is read is one moment, what is written is whole and at its place."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, text

from breakangle.storage.connection.anchor import (
    anchored,
    check_new_on_server,
    check_place,
    check_server,
    whose,
)
from breakangle.storage.connection.changes import begin_counting, count_changes, raise_counters
from breakangle.storage.connection.glance import Glance, Told
from breakangle.storage.connection.moment import moment_held
from breakangle.storage.connection.opening import engine_for, migrate
from breakangle.storage.connection.plainly import said_plainly


class OpenShop:
    """Open records, and the folder that blobs and backups lie in beside them."""

    def __init__(self, place: Path | str, folder: Path, instead: bool = False) -> None:
        """Open the records at `place` (a SQLite file, or a server's URL) and bring them to this schema.

        Args:
            place: the file, or the server's URL.
            folder: what lies beside the records.
            instead: whether a backup is about to be put in the place of whatever is there, so that nothing need be.

        Raises:
            NewerShopError: the records come from a newer program.
            ShopOutOfReachError: they cannot be reached.
            ShopDamagedError: the file is damaged.
            ShopMissingError: there was a shop, and its records are gone or another shop's.
        """
        self.place, self.folder = place, folder
        self.may_write: list[Callable[[], None]] = []
        if isinstance(place, Path) and not instead:
            check_place(place)
        self.engine = engine_for(place)
        if not isinstance(place, Path) and not instead:
            with said_plainly():
                check_new_on_server(self.engine, folder)
        migrate(self.engine)
        count_changes(self.engine)
        with said_plainly():
            self.identity = whose(self.engine, folder, instead)
        self._anchor = anchored(place, self.identity) if isinstance(place, Path) else None
        self._glance = Glance(place) if isinstance(place, Path) else None

    @property
    def is_file(self) -> bool:
        """Return whether the records are one SQLite file."""
        return isinstance(self.place, Path)

    def close(self) -> None:
        """Let go of every connection."""
        if self._glance is not None:
            self._glance.close()
        self.engine.dispose()

    def still_here(self) -> None:
        """Return if the open records are those at their place.

        Raises:
            ShopMovedError: they are not.
        """
        if self._anchor is not None:
            self._anchor.check()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one consistent state.

        Raises:
            ShopMovedError: the open records are no longer those at their place.
        """
        moment = moment_held()
        if moment is None or not moment.takes(self.engine):
            with self._read_apart() as connection:
                yield connection
            return
        if not moment.is_open:
            self.still_here()
        with said_plainly(), moment.using(self.engine) as connection:
            yield connection

    @contextmanager
    def _read_apart(self) -> Iterator[Connection]:
        self.still_here()
        with said_plainly(), self.engine.connect() as connection, connection.begin():
            yield connection

    def glanced(self, also: str = "", key: str | int = "") -> Told | None:
        """Return what `glance.told` does, without waiting; None where it cannot be seen so.

        Raises:
            ShopMovedError: the open records are no longer those at their place.
        """
        self.still_here()
        return None if self._glance is None else self._glance.told(also, key)

    @contextmanager
    def snapshot(self) -> Iterator[Connection]:
        """Give a connection that sees one state for as long as it is open, however much others write meanwhile."""
        with self._read_apart() as connection:
            if not self.is_file:
                connection.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ"))
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection whose work is stored whole, or not at all.

        Raises:
            ShopMovedError: the open records are no longer those at their place, or another program has taken them.
        """
        moment = moment_held()
        if moment is not None:
            moment.end()
        with (
            said_plainly(),
            self.engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            begin_counting(connection)
            yield connection
            raise_counters(connection)
            for check in self.may_write:
                check()
            if self._anchor is not None:
                self._anchor.check()
            else:
                check_server(connection, self.identity)
        if self._anchor is not None:
            self._anchor.check(stored=True)
