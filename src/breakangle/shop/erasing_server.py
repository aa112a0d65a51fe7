"""A database server's old pages: written anew without what was deleted, as far as a client of the server can."""

from sqlalchemy import Engine, inspect, text
from sqlalchemy.exc import DBAPIError

STATISTICS = "pg_catalog.pg_statistic"
LOG_KEPT = (
    "The database server's write-ahead log (the folder pg_wal in its data, and any archive of it) may hold what was "
    "there before until the server uses those files again. A person who keeps the server ends that with "
    "`wal_recycle = off`, then SELECT pg_switch_wal() and CHECKPOINT; archives and base backups go as they age out. "
    "If the server logs statements, its text log is to be let go of too."
)
DENIED = "The database user may not {what}: a person who keeps the server does it, as a superuser: {command}."


def without_old_pages(engine: Engine) -> tuple[str, ...]:
    """Write every table of a PostgreSQL database anew, with its statistics, and return what the server still keeps.

    `VACUUM FULL` writes a table and its indexes into new files; `ANALYZE` before it replaces the samples of values in
    the statistics; the log is switched between two checkpoints, so that the old files can go.
    """
    kept: list[str] = []
    tables = inspect(engine).get_table_names()
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        for name in tables:
            quoted = engine.dialect.identifier_preparer.quote(name)
            connection.execute(text(f"VACUUM (FULL, ANALYZE) {quoted}"))
        steps = (
            ("write its statistics anew", f"VACUUM FULL {STATISTICS}"),
            ("make a checkpoint", "CHECKPOINT"),
            ("switch the write-ahead log", "SELECT pg_switch_wal()"),
            ("make a checkpoint", "CHECKPOINT"),
        )
        for what, command in steps:
            try:
                connection.execute(text(command))
            except DBAPIError:
                kept.append(DENIED.format(what=what, command=command))
        if _statistics_skipped(engine):
            kept.append(DENIED.format(what="write its statistics anew", command=f"VACUUM FULL {STATISTICS}"))
    return (*dict.fromkeys(kept), LOG_KEPT)


def _statistics_skipped(engine: Engine) -> bool:
    """Return whether the server passed over its statistics with a warning only, as it does for an ordinary user."""
    with engine.connect() as connection:
        return not connection.execute(
            text(
                "SELECT pg_has_role(c.relowner, 'USAGE') FROM pg_class c WHERE c.oid = 'pg_statistic'::regclass"
            )
        ).scalar_one()
