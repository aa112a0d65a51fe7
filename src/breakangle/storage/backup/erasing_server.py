"""A database server's old pages: written anew without what was deleted, as far as a client of the server can."""

from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.exc import DBAPIError

from breakangle.model.words.speech import mark, tr

STATISTICS = "pg_catalog.pg_statistic"
LOG_KEPT = mark(
    "The database server's write-ahead log (the folder pg_wal in its data) may hold what "
    "was there before. A person who keeps the server ends that, as a superuser: "
    "CHECKPOINT; then, as often as `SELECT * FROM pg_ls_waldir()` lists files, SELECT "
    "pg_logical_emit_message(true, '', '') and SELECT pg_switch_wal(); then CHECKPOINT."
)
ELSEWHERE = mark(
    "An archive of the database server's write-ahead log, its base backups and its text "
    "log, where it keeps any, may hold what was there before: they go as they age out."
)
LOG_FILES = "SELECT name FROM pg_ls_waldir() WHERE name ~ '^[0-9A-F]{24}$' ORDER BY name"
MOST_LOG_FILES = 1024  # 16 GB: a log that is held back for something else is not gone through
DENIED = mark(
    "The database user may not {what}: a person who keeps the server does it, as a superuser: {command}."
)


def without_old_pages(engine: Engine) -> tuple[str, ...]:
    """Write every table of a PostgreSQL database anew, with its statistics, and return what the server still keeps.

    `VACUUM FULL` writes a table and its indexes into new files; `ANALYZE` before it replaces the samples of values in
    the statistics. The write-ahead log is gone through once, as far as its files lie, so that none keeps old bytes.
    """
    kept: list[str] = []
    tables = inspect(engine).get_table_names()
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        for name in tables:
            quoted = engine.dialect.identifier_preparer.quote(name)
            connection.execute(text(f"VACUUM (FULL, ANALYZE) {quoted}"))
        steps = (
            (tr("write its statistics anew"), f"VACUUM FULL {STATISTICS}"),
            (tr("make a checkpoint"), "CHECKPOINT"),
        )
        for what, command in steps:
            try:
                connection.execute(text(command))
            except DBAPIError:
                kept.append(tr(DENIED, what=what, command=command))
        if _statistics_skipped(engine):
            kept.append(tr(DENIED, what=tr("write its statistics anew"), command=f"VACUUM FULL {STATISTICS}"))
        if not _log_gone_through(connection):
            kept.append(tr(LOG_KEPT))
    return (*dict.fromkeys(kept), tr(ELSEWHERE))


def _log_gone_through(connection: Connection) -> bool:
    """Write every file of the write-ahead log anew, and return whether none is left that was not.

    After a checkpoint the server keeps old files for later use as they are, under the names that come next (PostgreSQL
    documentation, WAL Configuration). `pg_switch_wal` ends the file in use, whose rest is written as zeros; so as many
    switches as there are files, each with something to write before it, pass through all of them.
    """
    try:
        _switch(connection)  # what is in use now is among the old ones after the checkpoint
        connection.execute(text("CHECKPOINT"))
        names = list(connection.execute(text(LOG_FILES)).scalars())
        if len(names) > MOST_LOG_FILES:
            return False
        for _ in names:
            _switch(connection)
        first = str(connection.execute(text("SELECT pg_walfile_name(pg_current_wal_lsn())")).scalar_one())
        connection.execute(text("CHECKPOINT"))
        left = list(connection.execute(text(LOG_FILES)).scalars())
    except DBAPIError:
        return False
    return all(name >= first for name in left)


def _switch(connection: Connection) -> None:
    connection.execute(text("SELECT pg_logical_emit_message(true, '', '')"))
    connection.execute(text("SELECT pg_switch_wal()"))


def _statistics_skipped(engine: Engine) -> bool:
    """Return whether the server passed over its statistics with a warning only, as it does for an ordinary user."""
    with engine.connect() as connection:
        return not connection.execute(
            text(
                "SELECT pg_has_role(c.relowner, 'USAGE') FROM pg_class c WHERE c.oid = 'pg_statistic'::regclass"
            )
        ).scalar_one()
