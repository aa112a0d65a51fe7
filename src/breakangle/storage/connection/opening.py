"""Opening the records: the engine, what every connection is told, and the migrations, under a lock."""

import shutil
import sqlite3
import time
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from breakangle.model.errors import ChooseAnotherFileError, InstallError
from breakangle.model.words.speech import tr
from breakangle.storage.connection.plainly import said_plainly
from breakangle.storage.files.backup_listing import BACKUPS
from breakangle.storage.files.blobs import UNFINISHED, on_disk
from breakangle.storage.schema.errors import NewerShopError, ShopDamagedError, ShopOutOfReachError
from breakangle.storage.search.search import keep_all_words

WAIT_MS = 10_000  # chosen: many who write at once on a slow computer all get their turn
MOST_WAITING = 64  # connections beyond the usual few: one for each thread that answers
ROOM_TO_OPEN_BYTES = 65_536  # what SQLite needs beside the file
LEAST_SQLITE = (3, 37, 0)
MIGRATION_LOCK = 0x62616E67  # any number, the same in every program that opens these records
PRAGMAS = (
    f"PRAGMA busy_timeout={WAIT_MS}",
    "PRAGMA journal_mode=WAL",
    "PRAGMA synchronous=FULL",
    "PRAGMA foreign_keys=ON",
)


def engine_for(place: Path | str) -> Engine:
    """Return the engine of a SQLite file (a path) or of a server (a URL).

    Raises:
        ChooseAnotherFileError: neither a file nor a PostgreSQL URL.
        InstallError: the server's driver is not installed, or SQLite is older than 3.37.
    """
    if isinstance(place, str):
        return _server(place)
    if sqlite3.sqlite_version_info < LEAST_SQLITE:
        raise InstallError(
            tr("SQLite {sqlite_version} is too old", sqlite_version=sqlite3.sqlite_version),
            tr("3.37 or later"),
            tr("update Python"),
        )
    engine = create_engine(URL.create("sqlite", database=str(place)), max_overflow=MOST_WAITING)

    @event.listens_for(engine, "connect")
    def told(connection: Any, record: Any) -> None:
        del record
        connection.isolation_level = None
        try:
            for pragma in PRAGMAS:
                _told_in_time(connection, pragma)
            _for_its_owner_alone(place)
        except sqlite3.OperationalError as cause:
            connection.close()
            if place.parent.exists() and shutil.disk_usage(place.parent).free < ROOM_TO_OPEN_BYTES:
                raise sqlite3.OperationalError("database or disk is full") from cause  # not told when opening
            raise

    @event.listens_for(engine, "begin")
    def begun(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _for_its_owner_alone(place: Path) -> None:
    """Let no other account of this computer read the file; its log takes the permissions that it has then."""
    for path in (place, Path(f"{place}-wal"), Path(f"{place}-shm")):
        with suppress(OSError):  # not there, or another account's
            if path.stat().st_mode & 0o077:
                path.chmod(0o600)


def _told_in_time(connection: sqlite3.Connection, pragma: str) -> None:
    """Tell a connection how to work; a file that another program is making ready refuses that without waiting."""
    latest = time.monotonic() + WAIT_MS / 1000.0
    while True:
        try:
            connection.execute(pragma)
            return
        except sqlite3.OperationalError as cause:
            if "locked" not in str(cause) or time.monotonic() > latest:
                raise
            time.sleep(0.02)


def _server(address: str) -> Engine:
    remedy = tr("such as {address}", address="postgresql+psycopg://name@host/database")
    try:
        url = make_url(address)
        if url.get_backend_name() != "postgresql":
            unknown = tr("{name} is no database this program knows", name=url.get_backend_name())
            raise ChooseAnotherFileError(unknown, "PostgreSQL", remedy)
        engine = create_engine(
            url,
            pool_pre_ping=True,
            max_overflow=MOST_WAITING,
            connect_args={"connect_timeout": WAIT_MS // 1000},
        )
    except (ArgumentError, ValueError) as cause:
        raise ChooseAnotherFileError(tr("the database's address cannot be read"), remedy) from cause
    except ImportError as cause:
        raise InstallError(
            tr("the PostgreSQL driver is not installed"), "", tr("pip install 'breakangle[postgresql]'")
        ) from cause

    @event.listens_for(engine, "connect")
    def told(connection: Any, record: Any) -> None:
        del record
        connection.execute(f"SET lock_timeout = {WAIT_MS}")  # as long as a file is waited for
        connection.commit()

    return engine


def migrate(engine: Engine) -> None:
    """Bring the records to this program's schema; programs that open at once wait for each other.

    What is searched is kept anew, so a change of what records are found by needs a schema of its own, if an empty one.

    Raises:
        NewerShopError: the records come from a newer program.
        ShopOutOfReachError: they cannot be reached or written.
        ShopDamagedError: the file is damaged.
    """
    with said_plainly():
        with engine.connect() as connection:
            found = _revision(connection)
        if found == head():
            return
        if found is not None and engine.dialect.name == "sqlite":
            _copied_before(Path(str(engine.url.database)), found)
        with engine.connect().execution_options(writes=True) as connection, connection.begin():
            if engine.dialect.name == "postgresql":
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": MIGRATION_LOCK})
            upgrade(connection, "head")
            keep_all_words(connection)  # by this program's rules, whatever those of the one before were


def _copied_before(path: Path, revision: str) -> None:
    """Keep the file as it was before its schema is brought on, once for each schema; whole or not at all."""
    target = path.parent / BACKUPS / f"before-leaving-schema-{revision}.db"
    unfinished = target.parent / f"{UNFINISHED}{target.name}"
    if target.exists() and _whole(target, revision):
        return
    try:
        target.parent.mkdir(exist_ok=True)
        unfinished.unlink(missing_ok=True)
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(unfinished)) as copy:
            source.backup(copy)
        if not _whole(unfinished, revision):
            raise ShopDamagedError(
                tr("the shop's records are damaged"), tr("nothing was changed"), "run `breakangle restore`"
            )
        on_disk(unfinished)
        unfinished.replace(target)
        on_disk(target.parent)
    except OSError as cause:
        reason = (cause.strerror or str(cause)).lower()
        given = tr("{folder} cannot be written: {reason}", folder=target.parent, reason=reason)
        raise ShopOutOfReachError(given, tr("nothing was changed"), tr("allow writing there")) from cause


def _whole(path: Path, revision: str) -> bool:
    """Return whether SQLite finds nothing wrong in the file, and it is of this schema."""
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
            sound = connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            found = connection.execute("SELECT version_num FROM alembic_version").fetchall()
            return sound and found == [(revision,)]
    except sqlite3.Error:
        return False


def upgrade(connection: Connection, to: str) -> None:
    """Run the migrations up to `to` in the transaction that `connection` is in.

    Raises:
        NewerShopError: the records come from a newer program.
    """
    from alembic.operations import Operations
    from alembic.runtime.migration import MigrationContext

    script = _script()
    found = _revision(connection)
    if found is not None and found not in {one.revision for one in script.walk_revisions()}:
        raise NewerShopError(
            tr("these records have schema {found}, newer than this program's {own}", found=found, own=head()),
            tr("nothing was changed"),
            tr("update Breakangle, or restore a backup made by this version"),
        )

    def steps(revision: Any, context: Any) -> Any:
        del context
        return script._upgrade_revs(to, revision)

    context = MigrationContext.configure(connection, opts={"fn": steps})
    with Operations.context(context):
        context.run_migrations()


def head() -> str:
    """Return the newest schema this program knows."""
    return str(_script().get_current_head())


def _revision(connection: Connection) -> str | None:
    from alembic.runtime.migration import MigrationContext

    return MigrationContext.configure(connection).get_current_revision()


def _script() -> Any:
    from alembic.script import ScriptDirectory

    return ScriptDirectory(str(Path(__file__).parents[1] / "schema" / "migrations"))


def shown_address(address: str) -> str:
    """Return a server's URL without its password.

    Raises:
        ChooseAnotherFileError: it cannot be read.
    """
    try:
        return make_url(address).render_as_string(hide_password=True)
    except (ArgumentError, ValueError) as cause:
        raise ChooseAnotherFileError(tr("the database's address cannot be read")) from cause
