"""The last runs through procedures over all visits, as they are stored."""

from collections.abc import Sequence

from sqlalchemy import Connection, select

from breakangle.storage.schema.tables import RUN


def last_runs(connection: Connection, names: Sequence[str], most: int) -> tuple[tuple[str, str], ...]:
    """Return the procedure and body of the runs changed last, `most` at most, of these procedures."""
    wanted = (
        select(RUN.c.procedure, RUN.c.body)
        .where(RUN.c.deleted_at.is_(None), RUN.c.procedure.in_(names))
        .order_by(RUN.c.changed_at.desc())
        .limit(most)
    )
    return tuple((row[0], row[1]) for row in connection.execute(wanted))
